//! Puts the server together: one function for the program and for the tests.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use actix_web::dev::Server;
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App as ActixApp, HttpServer, web};
use thiserror::Error;

use crate::access::throttle::Throttle;
use crate::access::tls::{self, Identity, TlsError};
use crate::access::token;
use crate::app::{App, JSON_LIMIT, LINK_LASTS_MS};
use crate::backups::{self, Backups, BackupsError};
use crate::compress;
use crate::config::{Config, Transport};
use crate::headers;
use crate::job;
use crate::jobs::{self, Jobs};
use crate::live::Live;
use crate::models::Models;
use crate::pages::Pages;
use crate::present::present;
use crate::routes::{self, codes};
use crate::slow;
use crate::store::account::{self, Role};
use crate::store::{Store, StoreError, batch, lay, now_ms};

/// Forms, bytes, where no other limit is stated: the longest has five lines of text.
pub(crate) const FORM_LIMIT: usize = 32 * 1024;

/// Threads of a worker for what waits or works long (measured with 100 phones on two cores: with
/// eight they took turns with each other, and the slowest answers took half as long again; with fewer
/// two slow pages would hold up readings). Each opens the database for itself.
const BLOCKING_THREADS: usize = 3;

/// Why the server did not start.
#[derive(Debug, Error)]
pub enum StartError {
    /// The database does not open.
    #[error("{0}")]
    Store(#[from] StoreError),
    /// The address is taken or not ours, or the system refuses something else.
    #[error("{0}")]
    Io(#[from] std::io::Error),
    /// The folder of the backups cannot be used.
    #[error("backups: {0}")]
    Backups(#[from] BackupsError),
    /// There is no TLS.
    #[error("{0}")]
    Tls(#[from] TlsError),
    /// Beyond this machine without TLS.
    #[error(
        "{0} can be reached from other machines: start with --lan, or with --tls-cert and --tls-key"
    )]
    NotEncrypted(IpAddr),
    /// A template or file of words is broken.
    #[error("pages: {0}")]
    Pages(String),
}

/// A server that listens.
#[expect(missing_debug_implementations, reason = "the web server's handle has none")]
pub struct Spawned {
    /// Where.
    pub address: SocketAddr,
    /// To be awaited; it runs until it is stopped.
    pub server: Server,
    /// The database it serves.
    pub store: Store,
    /// A one-time link for the first administrator.
    pub sign_in: String,
    /// SHA-256 of the local authority's certificate, if there is one.
    pub fingerprint: Option<String>,
}

/// Registers every route and limit.
pub fn configure(service: &mut web::ServiceConfig) {
    service
        .app_data(web::JsonConfig::default().limit(JSON_LIMIT))
        .app_data(web::FormConfig::default().limit(FORM_LIMIT))
        .configure(routes::configure);
}

/// Opens the store and starts listening.
///
/// # Errors
/// [`StartError`] says what is in the way.
pub async fn spawn(config: Config) -> Result<Spawned, StartError> {
    let identity = identity(&config)?;
    let store = Store::open(&config.database())?;
    std::fs::create_dir_all(config.batches())?;
    let backups =
        config.backups.clone().map(|schedule| Backups::new(schedule, &config.data)).transpose()?;
    let backups = backups.map(Arc::new);
    let unfinished = store.write(batch::unfinished).await?;
    store.write(lay::end_unfinished).await?;
    let authority = identity.as_ref().and_then(|identity| identity.authority.clone());
    let fingerprint = authority.as_ref().map(|authority| authority.fingerprint.clone());
    let app = web::Data::new(App {
        store: store.clone(),
        pages: Pages::load().map_err(StartError::Pages)?,
        models: Models::default(),
        throttle: Throttle::default(),
        live: Live::default(),
        jobs: Jobs::default(),
        authority,
        backups,
        config: config.clone(),
    });
    background_threads_give_way();
    for id in unfinished {
        job::start(&app, id)?;
    }
    if let Some(backups) = app.backups.clone() {
        actix_web::rt::spawn(backups::keep_to_schedule(backups, store.clone()));
    }
    let server = HttpServer::new(move || {
        ActixApp::new()
            .app_data(app.clone())
            .wrap(from_fn(present))
            .wrap(from_fn(compress::whole))
            .wrap(Compress::default())
            .wrap(from_fn(headers::add))
            .wrap(from_fn(slow::bounded))
            .configure(configure)
            .default_service(web::to(routes::nothing_here))
    });
    // Boards that stay open would hold up the end; what was acknowledged is stored.
    let server = server.shutdown_timeout(5).worker_max_blocking_threads(BLOCKING_THREADS);
    let server = match identity {
        Some(identity) => server.bind_rustls_0_23(config.listen, identity.server)?,
        None => server.bind(config.listen)?,
    };
    let mut address = server.addrs().first().copied().unwrap_or(config.listen);
    if address.ip().is_unspecified() {
        address.set_ip(tls::lan_address());
    }
    let token = first_link(&store).await?;
    let scheme = if config.is_tls() { "https" } else { "http" };
    let sign_in = format!("{scheme}://{address}/sign-in/{token}");
    Ok(Spawned { address, server: server.run(), store, sign_in, fingerprint })
}

/// Batches and lays are worked out on threads that give way to requests.
fn background_threads_give_way() {
    let pool = rayon::ThreadPoolBuilder::new().start_handler(|_| jobs::give_way());
    // A pool that exists already, in a process with several servers, stays as it is.
    let _ = pool.build_global();
}

fn identity(config: &Config) -> Result<Option<Identity>, StartError> {
    match &config.transport {
        Transport::Plain if config.listen.ip().is_loopback() => Ok(None),
        Transport::Plain => Err(StartError::NotEncrypted(config.listen.ip())),
        Transport::LocalAuthority => {
            let names = ["localhost".to_owned(), "127.0.0.1".to_owned()];
            let names = [names.as_slice(), &[tls::lan_address().to_string()]].concat();
            Ok(Some(tls::local(&config.authority(), &names)?))
        }
        Transport::Certificate(certificate, key) => Ok(Some(tls::from_files(certificate, key)?)),
    }
}

/// Serves until interrupted; prints the address and a sign-in link first.
///
/// # Errors
/// [`StartError`] says what is in the way.
pub fn serve(config: Config) -> Result<(), StartError> {
    let scheme = if config.is_tls() { "https" } else { "http" };
    let has_backups = config.backups.is_some();
    actix_web::rt::System::new().block_on(async {
        let spawned = spawn(config).await?;
        let home = format!("{scheme}://{}", spawned.address);
        println!("Listening on {home}");
        println!("Sign in: {}", spawned.sign_in);
        if !has_backups {
            println!("No backups are made: start with --backups FOLDER to have them made.");
        }
        if let Some(fingerprint) = spawned.fingerprint {
            println!("To trust it on a phone, open {home}/trust");
            println!("Certificate of the local authority, SHA-256:\n{fingerprint}");
            if let Ok(square) = codes::for_terminal(&format!("{home}/trust")) {
                println!("{square}");
            }
        }
        spawned.server.await?;
        Ok(())
    })
}

async fn first_link(store: &Store) -> Result<String, StartError> {
    let value = token::random()?;
    let hash = token::hash(&value);
    store
        .write(move |c| {
            let account = match account::first_administrator(c)? {
                Some(account) => account.id,
                None => account::add(c, "administrator", Role::Administrator)?,
            };
            account::add_link(c, &hash, account, now_ms() + LINK_LASTS_MS)
        })
        .await?;
    Ok(value)
}
