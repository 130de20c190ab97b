//! The page, the HTTP API and the event stream.
//!
//! Everything is drawn on the server from one [`view::RoomView`]; the page reads without script, and a small
//! script of our own swaps the pieces that change. What stands behind it is the [`keeper::Keeper`].
//!
//! ```no_run
//! # async fn f(keeper: std::sync::Arc<dyn web::keeper::Keeper>) -> std::io::Result<()> {
//! let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await?;
//! let router = web::router(keeper, web::Settings::default());
//! web::serve(listener, router, std::future::pending()).await
//! # }
//! ```

pub mod access;
pub mod account;
mod api;
mod api_account;
mod api_map;
mod api_nights;
mod api_simulated;
mod api_species;
mod api_whatif;
mod assets;
pub mod calendar;
pub mod calls;
mod describe;
mod entry;
mod entry_account;
mod events;
mod guard;
pub mod keeper;
mod letters;
pub mod links;
mod local;
pub mod once;
mod page;
mod paged;
pub mod probes;
mod problem;
pub mod review;
pub mod simulated;
mod site;
mod site_account;
mod site_alarms;
mod site_compare;
mod site_labels;
mod site_map;
mod site_nights;
mod site_simulated;
mod site_species;
mod site_whatif;
mod site_work;
pub mod species;
mod strict;
mod svg;
pub mod view;
pub mod whatif;
mod words;

use access::Access;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use axum::{Extension, Router, middleware};
use keeper::Keeper;
use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Semaphore, watch};
use tower_http::compression::{CompressionLayer, CompressionLevel};

/// Event streams open at once; more are answered 503, so that forgotten tabs cannot eat the service.
const MOST_STREAMS: usize = 64;
/// Largest body of a form or an API call, bytes.
pub(crate) const LARGEST_BODY: usize = 64 * 1024;
/// How long open answers may take after the wish to stop.
const GRACE: Duration = Duration::from_secs(2);

/// What an installer sets.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// Names under which the page may be asked for beside loopback, with or without a port: `fishroom.lan`,
    /// `fishroom.lan:8080`. A request for any other name is answered 421.
    pub hosts: Vec<String>,
    /// Address under which people reach the page, `https://undercroft.example.org`, where that is known: labels tell it. Else
    /// they tell the name that the page was asked for by.
    pub address: Option<String>,
}

/// What every handler gets.
#[derive(Clone)]
pub(crate) struct Site {
    pub(crate) keeper: Arc<dyn Keeper>,
    pub(crate) streams: Arc<Semaphore>,
    pub(crate) access: Arc<Access>,
    /// Idempotency keys that are being answered.
    pub(crate) once: Arc<once::Table>,
    /// Where people reach the page, if that was configured.
    pub(crate) address: Option<Arc<str>>,
}

/// Told to event streams, which would else keep a stopping service alive for ever.
#[derive(Clone)]
pub(crate) struct Closing(pub(crate) watch::Receiver<bool>);

/// Signing in, and people. Which role each address asks for stands in `access/rules.rs`, as for all others.
fn people() -> Router<Site> {
    Router::new()
        .route("/sign-in", get(access::form).post(access::sign_in))
        .route("/sign-out", post(access::sign_out))
        .route("/own", get(access::account))
        .route("/own/password", post(access::change_password))
        .route("/people", get(access::people).post(access::add))
        .route("/people/{id}/role", post(access::set_role))
        .route("/people/{id}/password", post(access::set_password))
        .route("/people/{id}/remove", post(access::remove))
        .route("/tokens", post(access::make_token))
        .route("/tokens/{id}/withdraw", post(access::withdraw_token))
        .route("/sessions/{id}/end", post(access::end_session))
        .route("/audit", get(access::audit))
}

fn pages(site: &Site) -> Router<Site> {
    Router::new()
        .route("/", get(site::night))
        .route("/clutches", get(site::clutches).post(site::open_clutch))
        .route("/clutches/{id}", get(site::clutch))
        .route("/clutches/{id}/record", post(site::record))
        .route("/clutches/{id}/enter", post(site_account::enter_of_clutch))
        .route("/vessels", get(site_account::tanks).post(site_account::enter_of_room))
        .route("/vessels/{id}", get(site_account::vessel))
        .route("/vessels/{id}/enter", post(site_account::enter_of_vessel))
        .route("/labels", get(site_labels::labels))
        .route("/mothers", get(site_account::mothers))
        .route("/mothers/{id}", get(site_account::mother))
        .route("/mothers/{id}/enter", post(site_account::enter_of_mother))
        .route("/strip", get(site_account::strip))
        .route("/strip/{id}", post(site_account::stripped))
        .route("/species", get(site_species::species).post(site_species::enter))
        .route("/species/{key}/withdraw", post(site_species::withdraw))
        .route("/clutches/{id}/what-if", get(site_whatif::what_if))
        .route("/work", get(site_work::work))
        .route("/calendar/address", post(site_work::new_address))
        .route("/night", get(site_nights::last))
        .route("/night/{date}", get(site_nights::night))
        .route("/log", get(site::log))
        .route("/probes", get(site_map::probes))
        .route("/probes/claim", get(site_map::form).post(site_map::claim))
        .route("/probes/compare", get(site_compare::form).post(site_compare::compare))
        .route("/probes/comparisons/{number}/withdraw", post(site_compare::withdraw))
        .route("/probes/{claim}/release", post(site_map::release))
        .route("/alarms/{id}/acknowledge", post(site_alarms::acknowledge))
        .route("/alarms/{id}/shelve", post(site_alarms::shelve))
        .route("/alarms/{id}/unshelve", post(site_alarms::unshelve))
        .route("/calls", get(calls::page))
        .route("/calls/{name}/try", post(calls::try_one))
        .route("/on-it/{token}", get(links::look).post(links::take))
        .route("/simulated/faults/{key}", post(site_simulated::fault))
        .route("/simulated/pace", post(site_simulated::pace))
        .merge(people())
        .route_layer(middleware::from_fn_with_state(site.clone(), guard::look))
        .route("/calendar/{file}", get(site_work::calendar))
        .route("/live", get(site::live))
        .route("/ready", get(site::ready))
        .route("/favicon.ico", get(assets::icon))
        .route("/assets/{hash}/{name}", get(assets::serve))
}

fn api_calls(site: &Site) -> Router<Site> {
    Router::new()
        .route("/room", get(api::room))
        .route("/readings", get(api::readings))
        .route("/readings/{vessel}/{quantity}", get(api::history))
        .route("/clutches", get(api::clutches).post(api::open_clutch))
        .route("/clutches/{id}", get(api::clutch))
        .route("/clutches/{id}/records", post(api::record))
        .route("/account", get(api_account::entries).post(api_account::enter))
        .route("/vessels", get(api_account::tanks))
        .route("/vessels/{id}", get(api_account::vessel))
        .route("/mothers", get(api_account::mothers))
        .route("/mothers/{id}", get(api_account::mother))
        .route("/species", get(api_species::species).post(api_species::enter))
        .route("/species/{key}/withdraw", post(api_species::withdraw))
        .route("/clutches/{id}/what-if", get(api_whatif::what_if))
        .route("/clutches/{id}/shift", get(api_whatif::shift))
        .route("/nights/{date}", get(api_nights::night))
        .route("/work", get(site_work::tasks))
        .route("/alarms", get(api::alarms))
        .route("/alarms/log", get(api_account::alarm_log))
        .route("/alarms/{id}/acknowledge", post(site_alarms::api_acknowledge))
        .route("/alarms/{id}/shelve", post(site_alarms::api_shelve))
        .route("/alarms/{id}/unshelve", post(site_alarms::api_unshelve))
        .route("/calls", get(calls::api))
        .route("/calls/{name}/try", post(calls::api_try))
        .route("/probes", get(api_map::probes))
        .route("/comparisons", get(api_map::comparisons).post(api_map::compare))
        .route("/comparisons/{number}/withdraw", post(api_map::withdraw))
        .route("/devices", get(api_map::devices))
        .route("/unmapped", get(api_map::unmapped))
        .route("/map", get(api_map::map).post(api_map::claim))
        .route("/map/try", post(api_map::try_entry))
        .route("/map/{claim}/release", post(api_map::release))
        .route("/simulated", get(api_simulated::shown))
        .route("/simulated/faults/{key}", post(api_simulated::fault))
        .route("/simulated/pace", post(api_simulated::pace))
        .route("/openapi.json", get(describe::openapi))
        .route("/events", get(events::stream))
        .route("/session", get(access::api_session))
        .route("/people", get(access::api_people))
        .route("/audit", get(access::api_audit))
        .route_layer(middleware::from_fn_with_state(site.clone(), guard::look))
        .route_layer(middleware::from_fn_with_state(site.clone(), once::layer))
        .fallback(api::nothing)
        .method_not_allowed_fallback(api::wrong_method)
        .layer(middleware::from_fn(problem::every))
}

/// All routes with their guards, for a page on its own machine, where nobody signs in: foreign host names get 421, changes
/// asked for by other sites 403.
pub fn router(keeper: Arc<dyn Keeper>, settings: Settings) -> Router {
    guarded(keeper, settings, Access::open())
}

/// The same, with people who may do what `access` says.
pub fn guarded(keeper: Arc<dyn Keeper>, settings: Settings, access: impl Into<Arc<Access>>) -> Router {
    let access = access.into();
    let hosts = Arc::new(guard::Hosts { names: settings.hosts, by_number: access.by_number() });
    let address = settings.address.map(Arc::from);
    let streams = Arc::new(Semaphore::new(MOST_STREAMS));
    let site = Site { keeper, streams, access, once: Arc::default(), address };
    pages(&site)
        .nest("/api/v1", api_calls(&site))
        .fallback(site::nothing)
        .with_state(site.clone())
        .layer(middleware::from_fn_with_state(site, access::gate))
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        // The default leaves event streams and pictures alone; the fastest level costs a tenth of the best.
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest))
        .layer(guard::csrf())
        .layer(middleware::from_fn_with_state(hosts, guard::host))
        .layer(middleware::from_fn(guard::headers))
}

/// Serves until `shutdown` is ready, then ends the event streams and gives open answers two seconds.
///
/// # Errors
/// The listener's error.
pub async fn serve(
    listener: tokio::net::TcpListener,
    router: Router,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()> {
    let (close, closing) = watch::channel(false);
    let mut told = closing.clone();
    let router = router.layer(Extension(Closing(closing)));
    let router = router.into_make_service_with_connect_info::<SocketAddr>();
    let server = axum::serve(listener, router).with_graceful_shutdown(async move {
        shutdown.await;
        close.send_replace(true);
        // Keeps the channel open, so that streams see the value and not only a lost sender.
        tokio::spawn(async move { close.closed().await });
    });
    tokio::select! {
        ended = server.into_future() => ended,
        () = async {
            let _ = told.wait_for(|closed| *closed).await;
            tokio::time::sleep(GRACE).await;
        } => {
            tracing::warn!("answers still open after the grace time are cut off");
            Ok(())
        }
    }
}
