//! Starting and stopping the parts of the service, and watching over them.

use crate::clock::Clock;
use crate::config::{self, Config};
use crate::engine::{Desk, RestoreError};
use crate::inner::{Inner, Links, Restored};
use crate::outlets::Outlets;
use crate::room::Setup;
use crate::supervise;
use crate::vault::Kept;
use crate::ways::{self, Way};
use development::SpeciesTable;
use notify::Heartbeat;
use sd_notify::NotifyState;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use store::{OpenError, Options, Store};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use web::access::{Access, AccessSettings};
use web::simulated::SimulatedRoom;

/// Why the service cannot start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The page's address is taken or not ours.
    #[error(
        "the page cannot listen on {address}: {error}; stop what uses that port or choose another in [page] listen"
    )]
    Page {
        /// Where.
        address: SocketAddr,
        /// Why.
        error: std::io::Error,
    },
    /// The front door cannot open.
    #[error("[mqtt] front_door: {0}")]
    FrontDoor(#[from] frontdoor::OpenError),
    /// The store cannot be opened.
    #[error(transparent)]
    Store(#[from] OpenError),
    /// The store cannot be read.
    #[error(transparent)]
    Restore(#[from] RestoreError),
    /// A file that the configuration names.
    #[error("{field} {file}: {reason}")]
    File {
        /// The configuration's field.
        field: &'static str,
        /// The file.
        file: PathBuf,
        /// What is wrong and the cure.
        reason: String,
    },
    /// A webhook's settings.
    #[error("[[webhook]] {name:?}: {error}")]
    Webhook {
        /// Which.
        name: String,
        /// What is wrong and the cure.
        error: Box<notify::WebhookError>,
    },
    /// The settings of mail.
    #[error("[mail] {0}")]
    Mail(#[from] Box<notify::MailError>),
    /// The other service.
    #[error("[watch] {0}")]
    Watch(notify::EndpointError),
    /// Where signs of life go.
    #[error("[heartbeat] {0}")]
    Heartbeat(#[from] notify::EndpointError),
    /// TLS to the broker.
    #[error("[mqtt.broker.tls] {0}")]
    BrokerTls(intake::broker::TlsError),
    /// The topic map.
    #[error("[[map]] {0}")]
    Map(#[from] readings::MapError),
}

/// A running service.
pub struct Service {
    page: SocketAddr,
    front_door: Option<SocketAddr>,
    inner: Inner,
    stop_rest: watch::Sender<bool>,
    way: Way,
    rest: Vec<(&'static str, JoinHandle<()>)>,
}

/// Starts every part. Sockets are bound first, so that a port in use is said before anything is touched.
///
/// `simulated` is the room as something that people may break, where it is a simulated one.
///
/// # Errors
/// [`StartError`] naming the thing and the cure.
pub async fn start(
    config: &Config,
    clock: Clock,
    simulated: Option<Arc<dyn SimulatedRoom>>,
) -> Result<Service, StartError> {
    let listener = TcpListener::bind(config.page)
        .await
        .map_err(|error| StartError::Page { address: config.page, error })?;
    let page = listener.local_addr().map_err(|error| StartError::Page { address: config.page, error })?;
    let setup = Arc::new(Setup::new(config, species(config)?)?);
    let outlets = Outlets::of(config)?;
    let heartbeat = heartbeat(config)?;
    let entrance = ways::find(config).await?;
    let store = open_store(&config.store)?;
    let restored = Restored::read(store, setup.clone(), clock.clone()).await?;
    let (way, incoming) = ways::open(entrance, &setup, restored.filters());
    let mut inner = restored.start(Links {
        incoming,
        outlet: way.outlet(),
        trouble: way.trouble(),
        undelivered: outlets.undelivered(),
        other: outlets.other(),
    });
    inner.desk = inner.desk.simulating(simulated);

    let (stop_rest, _) = watch::channel(false);
    say_who_comes_in(config, &inner.store).await;
    let reached = &config.access;
    let settings = web::Settings { hosts: reached.all_hosts(), address: reached.address.clone() };
    let door = (settings, access(config, inner.store.clone()));
    let mut rest = vec![("page", serve_page(listener, &inner.desk, door, stop_rest.subscribe()))];
    if let Some(letters) = inner.letters(&setup, &clock) {
        rest.push(("letters of the night", tokio::spawn(letters.run(stop_rest.subscribe()))));
    }
    rest.extend(outlets.start(inner.store.clone(), clock, inner.outbox.clone(), &stop_rest));
    rest.extend(signs(heartbeat, &inner.desk, &stop_rest));
    let front_door = way.front_door();
    tracing::info!(%page, room = %config.room, "service started");
    Ok(Service { page, front_door, inner, stop_rest, way, rest })
}

/// Signs of life to an outside address, and to the init system.
fn signs(
    heartbeat: Option<Heartbeat>,
    desk: &Desk,
    stop: &watch::Sender<bool>,
) -> Vec<(&'static str, JoinHandle<()>)> {
    let mut parts = Vec::new();
    if let Some(heartbeat) = heartbeat {
        let (desk, stop) = (desk.clone(), stop.subscribe());
        let work = async move { heartbeat.run(|| desk.alive(), stop).await };
        parts.push(("heartbeat", tokio::spawn(work)));
    }
    if let Some(span) = supervise::wanted() {
        let (desk, stop) = (desk.clone(), stop.subscribe());
        let tell = || supervise::say(&[NotifyState::Watchdog]);
        let work = async move { supervise::watchdog(span, || desk.answers(), tell, stop).await };
        parts.push(("watchdog", tokio::spawn(work)));
    }
    parts
}

fn heartbeat(config: &Config) -> Result<Option<Heartbeat>, StartError> {
    let to = |h: &config::Heartbeat| Heartbeat::new(&h.url, h.every);
    Ok(config.heartbeat.as_ref().map(to).transpose()?)
}

/// Who may do what on the page.
fn access(config: &Config, store: Store) -> Access {
    let page = &config.access;
    let settings = AccessSettings {
        sign_in: page.sign_in,
        proxies: page.proxies.clone(),
        tls_host: page.tls_host(),
        by_number: page.beyond_loopback(),
    };
    Access::new(Kept::of(store), settings)
}

/// Says in clear words what stands open, or that nobody can come in yet.
async fn say_who_comes_in(config: &Config, store: &Store) {
    let page = &config.access;
    let proxied = page.all_hosts().iter().any(|h| !h.starts_with("localhost") && !h.starts_with("127."));
    if !page.sign_in {
        if proxied {
            tracing::warn!(
                "nobody has to sign in: whoever is let through by the proxy before the page may change everything; \
                 write sign_in = true under [page] unless the proxy itself signs people in"
            );
        }
        return;
    }
    // A store that cannot be read has been told already.
    let people = Kept::of(store.clone()).people().await.map_or(1, |p| p.len());
    if people == 0 {
        tracing::warn!(
            "nobody can sign in yet, so the page shows nothing; make the first keeper on this machine: \
             hatchwarden people --config FILE add NAME --role keeper"
        );
    }
}

fn serve_page(
    listener: TcpListener,
    desk: &Desk,
    (settings, access): (web::Settings, Access),
    mut stop: watch::Receiver<bool>,
) -> JoinHandle<()> {
    let router = web::guarded(Arc::new(desk.clone()), settings, access);
    tokio::spawn(async move {
        let stopped = async move {
            // An error means that the service is gone already.
            let _ = stop.wait_for(|s| *s).await;
        };
        if let Err(error) = web::serve(listener, router, stopped).await {
            tracing::error!(%error, "the page stopped");
        }
    })
}

fn open_store(file: &Path) -> Result<Store, StartError> {
    make_folder(file)?;
    Ok(Store::open(file, Options::default())?)
}

/// Makes the folder in which the store lies, if it is not there.
pub(crate) fn make_folder(file: &Path) -> Result<(), StartError> {
    let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) else { return Ok(()) };
    std::fs::create_dir_all(folder).map_err(|e| StartError::File {
        field: "[store] file",
        file: file.to_owned(),
        reason: format!("its folder cannot be made: {e}; make the folder or name another file"),
    })
}

pub(crate) fn species(config: &Config) -> Result<SpeciesTable, StartError> {
    let shipped = SpeciesTable::shipped();
    let Some(file) = &config.species else { return Ok(shipped) };
    let fault = |reason: String| StartError::File { field: "[species] file", file: file.clone(), reason };
    let text = read_text(file).map_err(&fault)?;
    let own = SpeciesTable::from_toml(&text).map_err(|e| fault(e.to_string()))?;
    Ok(shipped.with(own))
}

fn read_text(file: &Path) -> Result<String, String> {
    std::fs::read_to_string(file)
        .map_err(|e| format!("cannot be read: {e}; check the path and its permissions"))
}

impl Service {
    /// Where the page is.
    pub fn page(&self) -> SocketAddr {
        self.page
    }

    /// Where devices connect, if the service has its own front door.
    pub fn front_door(&self) -> Option<SocketAddr> {
        self.front_door
    }

    /// The desk, for whoever works with the service from inside.
    pub fn desk(&self) -> &Desk {
        &self.inner.desk
    }

    /// Runs until it is asked to stop or a part ends by itself. Exit 0 for a clean stop.
    pub async fn until_stopped(mut self) -> ExitCode {
        let failed = tokio::select! {
            () = crate::signal::asked_to_stop() => false,
            ended = &mut self.inner.engine => { tracing::error!(?ended, "the engine ended by itself"); true }
            name = first_to_end(&mut self.rest) => { tracing::error!(part = name, "a part ended by itself"); true }
        };
        let clean = self.stop().await;
        if failed || !clean { ExitCode::FAILURE } else { ExitCode::SUCCESS }
    }

    /// Stops in order: intake, then the engine, which commits what it holds, then page and deliveries, then the
    /// store. True when all of them ended within ten seconds.
    pub async fn stop(self) -> bool {
        supervise::say(&[NotifyState::Stopping]);
        let Inner { desk, store, stop, engine, .. } = self.inner;
        stop.send_replace(true);
        let mut clean = within("engine", async { engine.await.is_ok() }).await;
        self.stop_rest.send_replace(true);
        for (name, task) in self.rest {
            clean &= within(name, async { task.await.is_ok() }).await;
        }
        clean &= within("way in", async {
            self.way.close().await;
            true
        })
        .await;
        drop(desk);
        clean &=
            within("store", async { tokio::task::spawn_blocking(move || store.close()).await.is_ok() }).await;
        tracing::info!(clean, "service stopped");
        clean
    }
}

async fn within(name: &'static str, work: impl Future<Output = bool>) -> bool {
    match tokio::time::timeout(Duration::from_secs(10), work).await {
        Ok(good) => good,
        Err(_) => {
            tracing::error!(part = name, "still running after 10 s");
            false
        }
    }
}

async fn first_to_end(parts: &mut [(&'static str, JoinHandle<()>)]) -> &'static str {
    let waits = parts.iter_mut().map(|(name, task)| {
        Box::pin(async move {
            let _ = task.await;
            *name
        })
    });
    futures::future::select_all(waits).await.0
}
