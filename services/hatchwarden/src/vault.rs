//! People as the store keeps them, for the page.

use crate::engine::read_from;
use std::sync::Arc;
use store::access::{AccessChange, AuditRow, PersonRow, SessionRow, TokenRow};
use store::{Batch, CommitError, ReadError, Reader, Store};
use units::Time;
use web::access::{Change, Hash, How, Line, LineItem, Person, Role, Session, Token, Vault};
use web::keeper::{Answer, Trouble};

/// The store as the page's vault.
pub(crate) struct Kept(Store);

impl Kept {
    /// People of this store.
    pub(crate) fn of(store: Store) -> Arc<dyn Vault> {
        Arc::new(Self(store))
    }

    /// Reads where nobody else waits for it.
    fn read<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Reader) -> Result<T, ReadError> + Send + 'static,
    ) -> Answer<T> {
        read_from(&self.0, "people", work)
    }
}

impl Vault for Kept {
    fn people(&self) -> Answer<Vec<Person>> {
        self.read(|r| Ok(r.people()?.into_iter().map(person).collect()))
    }

    fn person(&self, name: String) -> Answer<Option<Person>> {
        self.read(move |r| Ok(r.person(&name)?.map(person)))
    }

    fn session(&self, hash: Hash) -> Answer<Option<(Session, Person)>> {
        self.read(move |r| Ok(r.session(&hash)?.map(|(s, p)| (session(s), person(p)))))
    }

    fn sessions(&self) -> Answer<Vec<Session>> {
        self.read(|r| Ok(r.sessions()?.into_iter().map(session).collect()))
    }

    fn token(&self, hash: Hash) -> Answer<Option<Token>> {
        self.read(move |r| Ok(r.token(&hash)?.and_then(token)))
    }

    fn tokens(&self) -> Answer<Vec<Token>> {
        self.read(|r| Ok(r.tokens()?.into_iter().filter_map(token).collect()))
    }

    fn change(&self, at: Time, changes: Vec<Change>, lines: Vec<Line>) -> Answer<()> {
        let (store, field) = (self.0.clone(), field(&changes));
        let access = changes.into_iter().map(|c| row(c, at)).collect();
        let batch = Batch { access, audit: lines.into_iter().map(audit_row).collect(), ..Batch::default() };
        Box::pin(async move {
            match store.commit(batch).await.map_err(|failed| failed.error) {
                Ok(_) => Ok(()),
                Err(CommitError::Refused { reason, .. }) => {
                    Err(Trouble::Refused { field: field.to_owned(), reason })
                }
                Err(error) => Err(Trouble::Unable(error.to_string())),
            }
        })
    }

    fn audit(&self, limit: usize, before: Option<u64>) -> Answer<Vec<LineItem>> {
        self.read(move |r| {
            let item = |i: store::access::AuditItem| LineItem { id: i.id, line: line(i.row) };
            Ok(r.audit(limit, before)?.into_iter().map(item).collect())
        })
    }
}

/// A role that is not known, of a newer version perhaps, may do the least.
pub(crate) fn person(row: PersonRow) -> Person {
    let PersonRow { id, name, role, password, since, changed } = row;
    Person { id, name, role: role.parse().unwrap_or(Role::Looker), password, since, changed }
}

fn session(row: SessionRow) -> Session {
    let SessionRow { id, person, since, seen, address, agent } = row;
    Session { id, person, since, seen, address, agent }
}

/// A scope that is not known opens nothing.
fn token(row: TokenRow) -> Option<Token> {
    let TokenRow { id, name, scope, person, since, used } = row;
    Some(Token { id, name, scope: scope.parse().ok()?, person, since, used })
}

fn line(row: AuditRow) -> Line {
    let AuditRow { at, who, how, address, what, place } = row;
    let how = How::ALL.into_iter().find(|h| h.word() == how).unwrap_or(How::Nobody);
    Line { at, who, how, address, what, place }
}

fn audit_row(line: Line) -> AuditRow {
    let Line { at, who, how, address, what, place } = line;
    AuditRow { at, who, how: how.word().to_owned(), address, what, place }
}

/// The field of the page's form that a refusal is about.
fn field(changes: &[Change]) -> &'static str {
    match changes.last() {
        Some(Change::AddPerson(..)) => "name",
        Some(Change::SetRole(..)) => "role",
        Some(Change::SetPassword(..) | Change::StartSession { .. }) => "password",
        _ => "number",
    }
}

fn row(change: Change, at: Time) -> AccessChange {
    match change {
        Change::AddPerson(name, role, password) => {
            AccessChange::AddPerson { name, role: role.word().to_owned(), password, at }
        }
        Change::SetPassword(person, password) => AccessChange::SetPassword { person, password, at },
        Change::SetRole(person, role) => AccessChange::SetRole { person, role: role.word().to_owned() },
        Change::RemovePerson(person) => AccessChange::RemovePerson { person },
        Change::StartSession { hash, person, password, address, agent } => {
            AccessChange::StartSession { hash, person, password, at, address, agent }
        }
        Change::SeenSession(hash) => AccessChange::SeenSession { hash, at },
        Change::EndSession(hash) => AccessChange::EndSession { hash },
        Change::EndSessionNumber(id) => AccessChange::EndSessionNumber { id },
        Change::EndOldSessions(since, seen) => AccessChange::EndOldSessions { since, seen },
        Change::AddToken(hash, name, scope, person) => {
            AccessChange::AddToken { hash, name, scope: scope.word().to_owned(), person, at }
        }
        Change::UsedToken(id) => AccessChange::UsedToken { id, at },
        Change::WithdrawToken(id) => AccessChange::WithdrawToken { id },
    }
}
