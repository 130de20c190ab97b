//! The pages of a room where people sign in.

use crate::fits;
use crate::hands::Hands;
use std::process::{Command, Stdio};
use testkit::{Axe, Hatchwarden, RoomFile, Screen, binary};

const PASSWORD: &str = "correct horse battery";

/// A room at whose page people sign in, though on loopback, with its first keeper.
fn room() -> RoomFile {
    use std::io::Write;
    let (room, _) = RoomFile::with_front_door("");
    let text = std::fs::read_to_string(&room.path).unwrap();
    let listen = "listen = \"127.0.0.1:0\"\n";
    std::fs::write(&room.path, text.replace(listen, &format!("{listen}sign_in = true\n"))).unwrap();
    let mut command = Command::new(binary());
    command.args(["people", "--config"]).arg(&room.path).args(["add", "Ada", "--role", "keeper"]);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    writeln!(child.stdin.take().unwrap(), "{PASSWORD}").unwrap();
    assert!(child.wait().unwrap().success());
    room
}

pub(crate) async fn check(hands: &mut Hands<'_>, axe: &Axe) {
    let room = room();
    let service = Hatchwarden::run(&room).await;
    let mut here = Hands::new(hands.browser, &service.api);
    hands.homes.push(service.api.address.clone());
    fits::page(&mut here, "sign-in", axe).await;
    sign_in(&here, "wrong horse battery", "#sign-in-fault").await;
    fits::everywhere(&mut here, "sign-in refused", axe).await;
    sign_in(&here, PASSWORD, "nav").await;
    for path in ["", "own", "people", "audit"] {
        fits::page(&mut here, path, axe).await;
    }
    hands.wrong("signed in", here.faults);
    let (code, said) = service.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}

async fn sign_in(here: &Hands<'_>, password: &str, then: &str) {
    here.screen(Screen::PHONE_LIGHT).await;
    here.open("sign-in").await;
    here.appears("#sign-in-name").await.send_keys("Ada").await.unwrap();
    here.appears("#sign-in-password").await.send_keys(&format!("{password}\u{e007}")).await.unwrap();
    here.appears(then).await;
}
