//! `hatchwarden people`: who may sign in, from the machine that runs the service. The first keeper is made here, and an owner
//! who has forgotten the password comes back here. The service may be running; it sees a change at once.

use crate::{check, csv_file, service, vault};
use clap::{Args, Subcommand};
use serde_json::json;
use std::io::{self, BufRead, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;
use store::Beside;
use store::access::{AccessChange, AuditRow, PersonRow};
use units::Time;
use web::access::{How, Role, name_will_do, password};

/// What to do.
#[derive(Debug, Args)]
pub struct Options {
    /// The room's configuration.
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    #[command(subcommand)]
    wish: Wish,
}

#[derive(Debug, Subcommand)]
enum Wish {
    /// Who is here.
    List {
        /// Prints it as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Lets somebody in. The password is asked for, or read as the first line of standard input.
    Add {
        /// Name, as it shall stand beside what this person does.
        name: String,
        /// looker (reads), helper (records, takes alarms on) or keeper (everything).
        #[arg(long)]
        role: Role,
    },
    /// Sets a new password. The person is signed out everywhere.
    Password {
        /// Whose.
        name: String,
    },
    /// Changes what somebody may do.
    Role {
        /// Whose.
        name: String,
        /// looker, helper or keeper.
        role: Role,
    },
    /// Removes somebody, with sessions and tokens.
    Remove {
        /// Whom.
        name: String,
    },
}

/// Does it and says so. Exit 0, or 2 with what is wrong and the cure.
pub fn run(options: Options, now: Time) -> ExitCode {
    csv_file::answered(done(options, now))
}

fn done(options: Options, now: Time) -> Result<String, String> {
    let config = check::load(&options.config).map_err(|e| e.to_string())?;
    service::make_folder(&config.store).map_err(|e| e.to_string())?;
    let mut store = Beside::open(&config.store).map_err(|e| e.to_string())?;
    match options.wish {
        Wish::List { json } => list(&store, json),
        Wish::Add { name, role } => add(&mut store, &name, role, now),
        Wish::Password { name } => {
            let person = find(&store, &name)?;
            let password = hashed(&person.name)?;
            let change = AccessChange::SetPassword { person: person.id, password, at: now };
            let said = format!("set a new password for {}", person.name);
            write(&mut store, change, &said, now)
        }
        Wish::Role { name, role } => {
            let person = find(&store, &name)?;
            let change = AccessChange::SetRole { person: person.id, role: role.word().to_owned() };
            write(&mut store, change, &format!("made {} a {}", person.name, role.word()), now)
        }
        Wish::Remove { name } => {
            let person = find(&store, &name)?;
            let said = format!("removed {}, {}", person.name, person.role);
            write(&mut store, AccessChange::RemovePerson { person: person.id }, &said, now)
        }
    }
}

fn people(store: &Beside) -> Result<Vec<PersonRow>, String> {
    store.reader().and_then(|r| r.people()).map_err(|e| e.to_string())
}

fn list(store: &Beside, as_json: bool) -> Result<String, String> {
    let people: Vec<_> = people(store)?.into_iter().map(vault::person).collect();
    if as_json {
        return Ok(format!("{}\n", json!(people)));
    }
    if people.is_empty() {
        return Ok(
            "Nobody yet. Let the first keeper in: hatchwarden people --config FILE add NAME --role keeper\n"
                .to_owned(),
        );
    }
    Ok(people.iter().map(|p| format!("{:8} {}\n", p.role.word(), p.name)).collect())
}

fn find(store: &Beside, name: &str) -> Result<PersonRow, String> {
    let found = store.reader().and_then(|r| r.person(name)).map_err(|e| e.to_string())?;
    found.ok_or_else(|| {
        format!(
            "name {name:?}: nobody here is called that; `hatchwarden people --config FILE list` shows who is"
        )
    })
}

fn add(store: &mut Beside, name: &str, role: Role, now: Time) -> Result<String, String> {
    let name = name_will_do(name).map_err(|why| format!("name {name:?}: {why}"))?;
    // Before the password is asked for.
    if people(store)?.is_empty() && role != Role::Keeper {
        let said = role.word();
        return Err(format!(
            "role {said:?}: somebody must be able to let others in; make the first one a keeper"
        ));
    }
    let (password, role) = (hashed(&name)?, role.word().to_owned());
    let said = format!("added {name} as {role}");
    write(store, AccessChange::AddPerson { name, role, password, at: now }, &said, now)
}

fn write(store: &mut Beside, change: AccessChange, what: &str, now: Time) -> Result<String, String> {
    let text = str::to_owned;
    let line = AuditRow {
        at: now,
        who: text("the command line"),
        how: text(How::Machine.word()),
        address: text("this machine"),
        what: text(what),
        place: text("hatchwarden people"),
    };
    match store.change(&[change], &[line]) {
        Ok(()) => Ok(format!("Done: {what}.\n")),
        Err(store::CommitError::Refused { reason, .. }) => Err(reason),
        Err(error) => Err(error.to_string()),
    }
}

fn hashed(name: &str) -> Result<String, String> {
    let new = asked(name)?;
    password::will_do(&new, name).map_err(|why| format!("password: {why}"))?;
    password::hash(&new)
}

/// From a terminal without showing it, twice; else the first line of standard input.
fn asked(name: &str) -> Result<String, String> {
    let unreadable = |e: io::Error| {
        format!("password: cannot be read: {e}; type it, or send it as the first line of standard input")
    };
    if !io::stdin().is_terminal() {
        let mut line = String::new();
        io::stdin().lock().read_line(&mut line).map_err(unreadable)?;
        return Ok(line.trim_end_matches(['\r', '\n']).to_owned());
    }
    let least = password::SHORTEST;
    let first = rpassword::prompt_password(format!("Password for {name}, at least {least} letters: "))
        .map_err(unreadable)?;
    let again = rpassword::prompt_password("The same once more: ").map_err(unreadable)?;
    if first == again { Ok(first) } else { Err("password: the two are not the same; try again".to_owned()) }
}
