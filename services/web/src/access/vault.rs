//! What is kept of people, and the trait of whoever keeps it.

use super::role::{Role, Scope};
use crate::keeper::Answer;
use serde::Serialize;
use units::Time;
use utoipa::ToSchema;

/// SHA-256 of a session's or a token's secret; the secret itself is kept nowhere.
pub type Hash = [u8; 32];

/// One person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Person {
    /// Number; never given twice.
    pub id: u64,
    /// Name.
    pub name: String,
    /// What she may do.
    pub role: Role,
    /// The password's hash as a PHC string. Never shown.
    #[serde(skip)]
    pub password: String,
    /// Since when she is here.
    pub since: Time,
    /// When the password was set.
    pub changed: Time,
}

/// One browser that is signed in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Session {
    /// Number; never given twice.
    pub id: u64,
    /// Whose.
    pub person: u64,
    /// When it began.
    pub since: Time,
    /// When it was last used, to a few minutes.
    pub seen: Time,
    /// From where it began.
    pub address: String,
    /// What the browser said of itself.
    pub agent: String,
}

/// One program's token.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Token {
    /// Number; never given twice.
    pub id: u64,
    /// What it is for.
    pub name: String,
    /// What it may do.
    pub scope: Scope,
    /// Who made it; `None` at the machine itself.
    pub person: Option<u64>,
    /// Since when.
    pub since: Time,
    /// When it was last used, to an hour.
    pub used: Option<Time>,
}

/// How it is known who did something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// Signed in with a password.
    Session,
    /// A program's token.
    Token,
    /// A link in a message.
    Link,
    /// At the machine itself: nobody signs in there, and the name is as it was typed.
    Machine,
    /// Not at all.
    Nobody,
}

impl How {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Session, Self::Token, Self::Link, Self::Machine, Self::Nobody];

    /// Its word, as it is kept.
    pub fn word(self) -> &'static str {
        match self {
            Self::Session => "session",
            Self::Token => "token",
            Self::Link => "link",
            Self::Machine => "machine",
            Self::Nobody => "nobody",
        }
    }
}

/// One line of the audit log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = AuditLine)]
pub struct Line {
    /// When.
    pub at: Time,
    /// Who.
    pub who: String,
    /// How that is known.
    pub how: How,
    /// From which address.
    pub address: String,
    /// What was done.
    pub what: String,
    /// To what, as an address of page or API.
    pub place: String,
}

/// A line with its place in the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct LineItem {
    /// Grows with every line; give it as `before` to read on.
    pub id: u64,
    /// The line.
    #[serde(flatten)]
    pub line: Line,
}

/// A change of who may do what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// A new person with the PHC string of the password.
    AddPerson(String, Role, String),
    /// A new password (PHC string) of a person; all her sessions end.
    SetPassword(u64, String),
    /// Another role of a person. The last keeper stays one.
    SetRole(u64, Role),
    /// A person goes, with sessions and tokens. The last keeper stays.
    RemovePerson(u64),
    /// A browser has signed in.
    StartSession {
        /// Of its secret.
        hash: Hash,
        /// Who.
        person: u64,
        /// The PHC string against which the password was right; refused if it is another one by now.
        password: String,
        /// From where.
        address: String,
        /// What the browser says of itself.
        agent: String,
    },
    /// A session was used.
    SeenSession(Hash),
    /// A session ends. Nothing if it is not there.
    EndSession(Hash),
    /// A session ends, by its number.
    EndSessionNumber(u64),
    /// Sessions end that began before the first time or were last used before the second.
    EndOldSessions(Time, Time),
    /// A token: the hash of its secret, what it is for, its scope, and who makes it.
    AddToken(Hash, String, Scope, Option<u64>),
    /// A token was used.
    UsedToken(u64),
    /// A token is good for nothing any more.
    WithdrawToken(u64),
}

/// Keeps people. Every answer is what is on disk at that moment, since people can be changed from the command line too.
pub trait Vault: Send + Sync + 'static {
    /// All people by name.
    fn people(&self) -> Answer<Vec<Person>>;
    /// The person of a name, whatever its letters, large or small.
    fn person(&self, name: String) -> Answer<Option<Person>>;
    /// A session with its person.
    fn session(&self, hash: Hash) -> Answer<Option<(Session, Person)>>;
    /// All sessions, the last used first.
    fn sessions(&self) -> Answer<Vec<Session>>;
    /// A token.
    fn token(&self, hash: Hash) -> Answer<Option<Token>>;
    /// All tokens, the oldest first.
    fn tokens(&self) -> Answer<Vec<Token>>;
    /// Makes changes at a time and adds lines to the audit log: all of it or nothing.
    fn change(&self, at: Time, changes: Vec<Change>, lines: Vec<Line>) -> Answer<()>;
    /// Lines of the audit log before an id, the newest first.
    fn audit(&self, limit: usize, before: Option<u64>) -> Answer<Vec<LineItem>>;
}
