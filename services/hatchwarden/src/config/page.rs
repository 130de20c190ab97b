//! `[page]`: where the page listens, and how people come in.

use super::table::Table;
use std::net::{IpAddr, SocketAddr};

/// Where the page is and who may come in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Where it listens.
    pub listen: SocketAddr,
    /// Address under which people reach it; without a slash at its end.
    pub address: Option<String>,
    /// Whether people must sign in; always beyond loopback.
    pub sign_in: bool,
    /// Names by which it may be asked for, beside that of the address.
    pub hosts: Vec<String>,
    /// Proxies that say truly where a request comes from.
    pub proxies: Vec<IpAddr>,
}

pub(super) fn read(t: &mut Table<'_>) -> Option<Page> {
    let address = address(t);
    let offset = t.offset_of("sign_in");
    let wanted = t.flag("sign_in");
    let hosts = hosts(t);
    let proxies = proxies(t);
    let listen: SocketAddr = t.required("listen", "write an address and port, e.g. \"127.0.0.1:4871\"")?;
    let beyond = !listen.ip().to_canonical().is_loopback();
    if beyond && wanted == Some(false) {
        let problem = format!("false will not do: {listen} can be reached from other machines");
        t.fault(offset, "sign_in", problem, "leave it out, or listen on loopback, e.g. \"127.0.0.1:4871\"");
        return None;
    }
    Some(Page { listen, address, sign_in: wanted.unwrap_or(beyond), hosts, proxies })
}

/// Where people reach the page, e.g. through a reverse proxy.
fn address(t: &mut Table<'_>) -> Option<String> {
    let found = t.text("address")?;
    let text = found.value.trim_end_matches('/');
    if text.starts_with("https://") || text.starts_with("http://") {
        return Some(text.to_owned());
    }
    let cure = "write it whole, e.g. \"https://undercroft.example.org\"";
    t.fault(found.offset, "address", format!("{:?} is no http address", found.value), cure);
    None
}

fn hosts(t: &mut Table<'_>) -> Vec<String> {
    let cure = "write names without http:// and without a path, e.g. [\"fishroom.lan\"]";
    let found = t.texts("hosts", cure);
    for (host, offset) in &found {
        if host.is_empty() || host.contains(['/', ' ', '*', '@']) {
            t.fault(*offset, "hosts", format!("{host:?} is no host name"), cure);
        }
    }
    found.into_iter().map(|(host, _)| host).collect()
}

fn proxies(t: &mut Table<'_>) -> Vec<IpAddr> {
    let cure = "write addresses of your own proxies, e.g. [\"127.0.0.1\"]";
    let mut good = Vec::new();
    for (text, offset) in t.texts("proxies", cure) {
        match text.parse::<IpAddr>() {
            Ok(ip) => good.push(ip.to_canonical()),
            Err(_) => t.fault(offset, "proxies", format!("{text:?} is no IP address"), cure),
        }
    }
    good
}

impl Page {
    /// Host and port of the address under which people reach it.
    fn public_host(&self) -> Option<&str> {
        let address = self.address.as_deref()?;
        let rest = address.split_once("://").map_or(address, |(_, rest)| rest);
        rest.split('/').next()
    }

    /// All names by which it may be asked for.
    pub fn all_hosts(&self) -> Vec<String> {
        self.public_host().map(str::to_owned).into_iter().chain(self.hosts.iter().cloned()).collect()
    }

    /// Host and port of that address, if it is reached through TLS.
    pub fn tls_host(&self) -> Option<String> {
        let tls = self.address.as_ref().is_some_and(|a| a.starts_with("https://"));
        self.public_host().filter(|_| tls).map(str::to_owned)
    }

    /// Whether it can be reached from other machines without a proxy.
    pub fn beyond_loopback(&self) -> bool {
        !self.listen.ip().to_canonical().is_loopback()
    }
}
