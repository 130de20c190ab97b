//! The configuration of one room: what an installer sets. What a keeper changes day to day lives in the store.

mod calls;
mod fault;
mod hours;
mod map;
mod mqtt;
mod page;
mod read;
mod table;

pub use fault::{ConfigError, Fault};
pub use hours::Hours;
pub(crate) use map::unknown_vessel;
pub use page::Page;
pub use read::{read, read_map};

use alarms::{Condition, Deadlines, Settings};
use chrono_tz::Tz;
use readings::MapEntry;
use std::collections::BTreeMap;
use std::fmt;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;
use units::{Band, RoomId, Span, VesselId, VesselKind};

/// One room, as read from its file and checked.
#[derive(Debug, Clone)]
pub struct Config {
    /// Name of the room; the second level of our topics.
    pub room: RoomId,
    /// The room's own clock.
    pub zone: Tz,
    /// The store's file.
    pub store: PathBuf,
    /// Where the page listens.
    pub page: SocketAddr,
    /// How messages come in.
    pub way_in: WayIn,
    /// Tanks, tumblers and jars, in the order of the file.
    pub vessels: Vec<Vessel>,
    /// Topics of devices with a shape of their own.
    pub maps: Vec<MapEntry>,
    /// Filters that are heard beside those of the map, so that what nobody has mapped yet can be listed.
    pub listen: Vec<String>,
    /// Calendars are told anew of a date that moves by more than this.
    pub moves_over: Span,
    /// Address under which people reach the page, for links in messages; without a slash at its end.
    pub address: Option<String>,
    /// How people come in.
    pub access: Page,
    /// The server that sends mail.
    pub mail: Option<MailServer>,
    /// Receivers of alarms by HTTP.
    pub webhooks: Vec<Webhook>,
    /// Who is called, how and when.
    pub calls: Vec<Call>,
    /// Sirens and lamps.
    pub sirens: Vec<Siren>,
    /// Who gets the review of a night in the morning.
    pub night: Option<NightMail>,
    /// How long young have without moving air.
    pub deadlines: Deadlines,
    /// What to do first, where somebody wrote words of their own.
    pub first_steps: BTreeMap<Condition, String>,
    /// Drills, unless they are off.
    pub drills: Option<Drills>,
    /// Another Hatchwarden whose signs of life this one waits for.
    pub watch: Option<Watch>,
    /// Where a sign of life goes.
    pub heartbeat: Option<Heartbeat>,
    /// Species entries of the keeper's own, beside those shipped.
    pub species: Option<PathBuf>,
    /// Whether finished clutches teach the entries of later ones.
    pub learn: bool,
}

/// How messages come in.
#[derive(Debug, Clone)]
pub enum WayIn {
    /// The service's own listener.
    FrontDoor(FrontDoor),
    /// Any MQTT 3.1.1 broker.
    Broker(Broker),
}

/// The service's own listener.
#[derive(Debug, Clone)]
pub struct FrontDoor {
    /// Where it listens; loopback only while no device has a password.
    pub listen: SocketAddr,
    /// Who may connect; everybody on this machine if there is none.
    pub devices: Vec<Device>,
    /// The certificate it shows; in the clear without one.
    pub tls: Option<CertificateFiles>,
}

/// A device that signs in at the front door.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Its MQTT user name.
    pub name: String,
    /// File that holds its password.
    pub password_file: PathBuf,
    /// Filters that it may publish to.
    pub publish: Vec<String>,
    /// Filters that it may subscribe to.
    pub subscribe: Vec<String>,
}

/// A certificate and its key, both PEM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificateFiles {
    /// The certificate and those between it and its authority.
    pub certificate: PathBuf,
    /// Its private key.
    pub key: PathBuf,
}

/// TLS to a broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BrokerTls {
    /// The broker's authority; those that this machine trusts if none is named.
    pub ca: Option<PathBuf>,
    /// Who we are, where the broker asks for a certificate.
    pub identity: Option<CertificateFiles>,
}

/// A standard broker.
#[derive(Debug, Clone)]
pub struct Broker {
    /// Host name or address.
    pub host: String,
    /// TCP port.
    pub port: u16,
    /// Fixed, so that the broker keeps messages while the service is away.
    pub client_id: String,
    /// User name, if the broker asks for one.
    pub username: Option<String>,
    /// File that holds the password, if the broker asks for one.
    pub password_file: Option<PathBuf>,
    /// TLS; in the clear without it.
    pub tls: Option<BrokerTls>,
}

/// A body of water or a chamber in one.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// Its name.
    pub id: VesselId,
    /// Tank, tumbler or jar.
    pub kind: VesselKind,
    /// The tank it hangs in and whose water it shares.
    pub host: Option<VesselId>,
    /// The wanted band of temperature, °C.
    pub band: Option<Band>,
    /// The temperature the keeper holds it at, °C: what the water to come is taken to be.
    pub set_point: Option<f64>,
    /// Rated accuracy of its thermometer, ± K.
    pub probe_accuracy: f64,
    /// Air flow at or under which the eggs lie still, L/min.
    pub still_at: f64,
    /// Bubbles a second at or under which they do, Hz.
    pub still_bubbles: f64,
    /// How long a probe here may be silent, where it is set; else it follows from the probe's own rhythm.
    pub silent_after: Option<Span>,
    /// The line that its air comes from; what stops on one line at once is one alarm.
    pub air_line: String,
    /// The wanted band of pH.
    pub ph_band: Option<Band>,
    /// The least level, percent.
    pub level_low: Option<f64>,
    /// How much water it holds, L.
    pub litres: Option<f64>,
    /// Deadband and delays of its alarms, where they are set.
    pub tuning: Tuning,
    /// Its air is watched whatever the account knows to be in it: of vessels that a record names and no configuration.
    pub always: bool,
}

/// Deadband and delays of a vessel's alarms, where an installer set them; else those of [`alarms::Settings`].
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tuning {
    /// How far inside its band the water must come back, K.
    pub band_deadband: Option<f64>,
    /// How long it must be outside.
    pub band_on_delay: Option<Span>,
    /// How long it must be back.
    pub band_off_delay: Option<Span>,
    /// How long air must have stopped.
    pub still_on_delay: Option<Span>,
    /// How long it must flow again.
    pub still_off_delay: Option<Span>,
}

impl Tuning {
    /// Settings of a band's end with what was set.
    pub(crate) fn band(&self, s: Settings) -> Settings {
        Settings {
            deadband: self.band_deadband.unwrap_or(s.deadband),
            on_delay: self.band_on_delay.unwrap_or(s.on_delay),
            off_delay: self.band_off_delay.unwrap_or(s.off_delay),
            ..s
        }
    }

    /// Settings of air with what was set.
    pub(crate) fn still(&self, s: Settings) -> Settings {
        Settings {
            on_delay: self.still_on_delay.unwrap_or(s.on_delay),
            off_delay: self.still_off_delay.unwrap_or(s.off_delay),
            ..s
        }
    }
}

/// One receiver of alarms by HTTP.
#[derive(Debug, Clone)]
pub struct Webhook {
    /// By which calls name it.
    pub name: String,
    /// Address to post to.
    pub url: String,
    /// File that holds the signing secret, `whsec_` and base64.
    pub secret_file: Option<PathBuf>,
    /// What is posted, for receivers of another shape; without it our own JSON, and each change on its own.
    pub template: Option<String>,
    /// Its media type.
    pub content_type: Option<String>,
    /// File that holds the value of an Authorization header.
    pub key_file: Option<PathBuf>,
}

/// A server that sends mail.
#[derive(Debug, Clone)]
pub struct MailServer {
    /// Host name or address.
    pub host: String,
    /// TCP port.
    pub port: u16,
    /// How it is encrypted.
    pub tls: MailTls,
    /// User name, if it asks for one.
    pub username: Option<String>,
    /// File that holds the password.
    pub password_file: Option<PathBuf>,
    /// The server's own authority; those that this machine trusts if none is named.
    pub ca: Option<PathBuf>,
    /// The sender.
    pub from: String,
}

/// How mail is encrypted on its way to the server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MailTls {
    /// After a greeting in the clear.
    StartTls,
    /// From the first byte.
    Tls,
    /// Not at all.
    None,
}

/// Who is called, how and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    /// Its name, of person and way.
    pub name: String,
    /// The way out: the name of a webhook, or `mail:` and an address.
    pub way: String,
    /// Whom it reaches.
    pub person: Option<String>,
    /// The least urgent priority that it is made for; 5 is everything.
    pub priority: u8,
    /// The hours in which it is made; always without them.
    pub hours: Option<Hours>,
    /// It is made when nobody has taken an alarm on for so long.
    pub after: Span,
    /// A program reads it: every change is a message of its own, at once.
    pub program: bool,
}

/// The review of a night by mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NightMail {
    /// To which addresses.
    pub to: Vec<String>,
    /// The minute of the day at which it is sent, on the room's clock.
    pub at: u32,
}

impl NightMail {
    /// The ways by which it leaves.
    pub fn ways(&self) -> impl Iterator<Item = String> + '_ {
        self.to.iter().map(|to| format!("mail:{to}"))
    }
}

/// When it is sent where nothing is said: half an hour after the night has ended, so that what came late is in it. A planning value.
pub const NIGHT_AT: u32 = 7 * 60 + 30;

/// A siren or a lamp that hears MQTT.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Siren {
    /// Where it listens.
    pub topic: String,
    /// What makes it sound.
    pub on: String,
    /// What makes it stop.
    pub off: String,
    /// The least urgent priority for which it sounds.
    pub priority: u8,
    /// It goes on until the alarm is over, not only until somebody takes it on.
    pub until_over: bool,
}

/// A call through the whole chain, again and again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drills {
    /// How many days lie between two.
    pub every_days: u16,
    /// The minute of the day at which one begins.
    pub at: u32,
}

/// Drills where nothing is said: once a month, at six in the evening. A planning value.
pub const DRILLS: Drills = Drills { every_days: 30, at: 18 * 60 };

/// Another Hatchwarden whose signs of life this one waits for.
#[derive(Debug, Clone)]
pub struct Watch {
    /// Address that answers while it lives, e.g. its `/live`.
    pub url: String,
    /// How often it is asked.
    pub every: Duration,
}

/// The air line of vessels of which none is said: one pump for the room.
pub const AIR_LINE: &str = "air";
/// How often another service is asked for a sign of life. A planning value.
pub const ASK: Duration = Duration::from_secs(30);

/// Where a sign of life goes, and how often.
#[derive(Clone)]
pub struct Heartbeat {
    /// Address to post to; it can hold a key.
    pub url: String,
    /// How often.
    pub every: Duration,
}

impl fmt::Debug for Heartbeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Heartbeat").field("every", &self.every).finish_non_exhaustive()
    }
}

/// How often a sign of life is sent. A planning value.
pub const BEAT: Duration = Duration::from_secs(60);
/// Rated accuracy of a thermometer, ± K, where nothing is said. A planning value: what common digital probes are sold with.
pub const PROBE_ACCURACY: f64 = 0.5;

/// Air flow at or under which a tumbler is taken to have stopped, L/min. A planning value, far under what turns
/// eggs; set it per vessel.
pub const STILL_AT: f64 = 0.15;

/// Bubbles a second at or under which eggs lie still, unless it is set, Hz. A planning value.
pub const STILL_BUBBLES: f64 = 1.0;
/// The band of water of which nothing is set, °C. A planning value, common practice without a source: warm enough for most
/// maternal mouthbrooders, and under what halves the time that young have without moving air.
pub const BAND: Band = Band { low: 24.0, high: 29.0 };
/// How long a probe may be silent at least before that is an alarm. A planning value: three missed minutes.
pub const SILENT_AFTER: Span = Span::minutes(3);
/// By how much a date must move before calendars are told anew. A planning value: less than a person plans by.
pub const MOVES_OVER: Span = Span::hours(3);
