//! Who may do what, as rows: people, their sessions, tokens of programs, and the audit log.

use units::Time;

/// SHA-256 of a session's or a token's secret. The secret itself is kept nowhere.
pub type Hash = [u8; 32];

/// One person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonRow {
    /// Number; never given twice.
    pub id: u64,
    /// Name as it was written; unique without regard to large and small letters.
    pub name: String,
    /// Word of the role.
    pub role: String,
    /// The password's hash as a PHC string.
    pub password: String,
    /// Since when.
    pub since: Time,
    /// When the password was set.
    pub changed: Time,
}

/// One browser that is signed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SessionRow {
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
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TokenRow {
    /// Number; never given twice.
    pub id: u64,
    /// What it is for.
    pub name: String,
    /// Word of the scope.
    pub scope: String,
    /// Who made it; `None` at the machine itself.
    pub person: Option<u64>,
    /// Since when.
    pub since: Time,
    /// When it was last used, to an hour.
    pub used: Option<Time>,
}

/// One line of the audit log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditRow {
    /// When.
    pub at: Time,
    /// Who.
    pub who: String,
    /// How that is known: `session`, `token`, `link` or `machine`.
    pub how: String,
    /// From which address.
    pub address: String,
    /// What was done.
    pub what: String,
    /// To what, as an address of page or API.
    pub place: String,
}

/// A line of the audit log with its place in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditItem {
    /// Grows with every line; give it as `before` to read on.
    pub id: u64,
    /// The line.
    pub row: AuditRow,
}

/// A change of who may do what. One that means somebody or something that is not there is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AccessChange {
    /// A new person.
    AddPerson {
        /// Name; must be new.
        name: String,
        /// Word of the role.
        role: String,
        /// PHC string.
        password: String,
        /// When.
        at: Time,
    },
    /// A new password; all sessions of the person end.
    SetPassword {
        /// Whose.
        person: u64,
        /// PHC string.
        password: String,
        /// When.
        at: Time,
    },
    /// Another role. The last keeper stays one.
    SetRole {
        /// Whose.
        person: u64,
        /// Word of the role.
        role: String,
    },
    /// The person goes, with all sessions and tokens. The last keeper stays.
    RemovePerson {
        /// Who.
        person: u64,
    },
    /// A browser has signed in; refused if the password is another one by now.
    StartSession {
        /// Of its secret.
        hash: Hash,
        /// Who.
        person: u64,
        /// The PHC string against which the password was right.
        password: String,
        /// When.
        at: Time,
        /// From where.
        address: String,
        /// What the browser says of itself.
        agent: String,
    },
    /// It was used. Nothing if it is not there.
    SeenSession {
        /// Of its secret.
        hash: Hash,
        /// When.
        at: Time,
    },
    /// It ends. Nothing if it is not there.
    EndSession {
        /// Of its secret.
        hash: Hash,
    },
    /// One ends by its number.
    EndSessionNumber {
        /// Which.
        id: u64,
    },
    /// Those end that began or were last used too long ago.
    EndOldSessions {
        /// Begun before.
        since: Time,
        /// Last used before.
        seen: Time,
    },
    /// A token for a program.
    AddToken {
        /// Of its secret.
        hash: Hash,
        /// What it is for.
        name: String,
        /// Word of the scope.
        scope: String,
        /// Who makes it.
        person: Option<u64>,
        /// When.
        at: Time,
    },
    /// It was used. Nothing if it is not there.
    UsedToken {
        /// Which.
        id: u64,
        /// When.
        at: Time,
    },
    /// It is good for nothing any more.
    WithdrawToken {
        /// Which.
        id: u64,
    },
}
