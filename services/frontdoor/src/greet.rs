//! The beginning of a connection, from CONNECT to CONNACK, and its last words.

use crate::broker::{Attached, Broker};
use crate::checks::{Fault, code, topic_allowed};
use crate::connect::{self, Connect};
use crate::connection::Guest;
use crate::encode;
use crate::gate::Badge;
use crate::link::Close;
use crate::reader::Reader;
use crate::rights::Rights;
use crate::session::Session;
use bytes::BytesMut;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt, ReadHalf, WriteHalf};
use tokio::time::{Instant, timeout, timeout_at};

/// For the last words before a connection closes.
pub(crate) const FAREWELL: Duration = Duration::from_secs(1);

/// Waits for CONNECT and lets the client in. `Err(None)` = it never came.
pub(crate) async fn greet<R: AsyncRead>(
    broker: &Broker,
    guest: &Guest,
    reader: &mut Reader<ReadHalf<R>>,
    until: Instant,
) -> Result<(Connect, Arc<Session>), Option<connect::Refused>> {
    let Ok(first) = timeout_at(until, reader.first()).await else {
        tracing::debug!("connection closed: no CONNECT in time");
        return Err(None);
    };
    let first = match first {
        Ok(first) => first,
        Err(Close::Fault(fault)) => return Err(Some(connect::Refused::silent(fault))),
        Err(_) => return Err(None),
    };
    let mut connect = connect::decode(&first, || broker.fresh_id())?;
    let answer = Some(connect.version);
    let refuse = |fault| connect::Refused { answer, fault, counted: false };
    let counted = |fault| connect::Refused { answer, fault, counted: true };
    if let Some(will) = &connect.will {
        topic_allowed(&will.message.topic, &broker.limits).map_err(refuse)?;
    }
    let badge =
        Badge { peer: guest.peer, user: connect.user.as_deref(), password: connect.password.as_ref() };
    let rights = broker.gate.sign_in(badge, &broker.counters).await.map_err(|fault| fault.map(counted))?;
    will_permitted(broker, &connect, &rights).map_err(counted)?;
    guest.link.set_will(connect.will.take());
    let Attached { session, present, wills } =
        broker.attach(&connect, &rights, &guest.link).map_err(refuse)?;
    // From here on the guest has something to undo.
    drop(guest.session.set(Arc::clone(&session)));
    for will in wills {
        broker.fire(will).await;
    }
    guest.link.reply(|out| encode::connack(out, &connect, present, &broker.limits));
    let user = rights.name();
    tracing::info!(client = %connect.client, user, version = ?connect.version, present, "client connected");
    Ok((connect, session))
}

/// The will is published later in the name of its user, so it must be permitted from the start.
fn will_permitted(broker: &Broker, connect: &Connect, rights: &Rights) -> Result<(), Fault> {
    let Some(will) = &connect.will else { return Ok(()) };
    if rights.may_publish(&will.message.topic) {
        return Ok(());
    }
    broker.counters.refused_publish();
    if broker.gate.first_refusal(rights.name(), &will.message.topic) {
        tracing::warn!(client = %connect.client, user = rights.name(), topic = &*will.message.topic,
            "connection refused: its user may not publish to the topic of its will");
    }
    Err(Fault { code: code::NOT_AUTHORIZED, why: "will to a topic that its user may not publish to" })
}

/// Tells a client why it is not let in, if it is to be told.
pub(crate) async fn refuse<W: AsyncWrite>(
    broker: &Broker,
    refusal: Option<connect::Refused>,
    output: &mut WriteHalf<W>,
) {
    let Some(connect::Refused { answer, fault, counted }) = refusal else { return };
    if !counted {
        broker.counters.refused();
        tracing::warn!(code = fault.code, why = fault.why, "connection refused");
    }
    let mut out = BytesMut::new();
    if let Some(version) = answer {
        encode::connack_refused(&mut out, version, fault.code);
    }
    farewell(output, out).await;
}

/// The end of a connection waits for nobody.
pub(crate) async fn farewell<W: AsyncWrite>(output: &mut WriteHalf<W>, mut out: BytesMut) {
    let last = async {
        output.write_all_buf(&mut out).await?;
        output.shutdown().await
    };
    if !matches!(timeout(FAREWELL, last).await, Ok(Ok(()))) {
        tracing::debug!("the client did not take the last bytes");
    }
}
