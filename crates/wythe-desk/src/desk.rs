//! The server: what it holds, how it starts.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::time::Duration;

use tokio::sync::broadcast;
use wythe_transmission::Cache;

use crate::making::Making;
use crate::scene::Scene;
use crate::share::{self, Share, ShareError};
use crate::slide::Slide;
use crate::sound::Histories;
use crate::store::{Store, StoreError};
use crate::work::Work;
use crate::{guard, recent, routes};

/// How the desk is started.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Project to open; the start page where there is none.
    pub folder: Option<PathBuf>,
    /// Port; any free one where it is 0.
    pub port: u16,
    /// Whether phones of the local network may be paired: at which address of this machine; an
    /// empty text for the one it has in its network.
    pub share: Option<String>,
}

/// What is told once the desk listens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Started {
    /// Address with the key.
    pub address: String,
    /// Where it is shared: the address of the phone page and the first code.
    pub share: Option<(String, String)>,
}

/// Why the desk does not run.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DeskError {
    /// The address is taken or forbidden.
    #[error("the desk cannot listen on {address}: {cause}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why.
        cause: std::io::Error,
    },
    /// The system has no random numbers or no threads.
    #[error("the desk cannot start: {0}")]
    System(std::io::Error),
    /// The project.
    #[error(transparent)]
    Project(#[from] StoreError),
    /// The local network.
    #[error("the desk cannot be shared: {0}")]
    Share(#[from] ShareError),
}

/// What pages are told while they are open.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The project changed.
    Changed,
    /// Background work goes on.
    Progress {
        /// What is being done.
        doing: String,
        /// Share done, 0 to 1.
        share: f64,
    },
    /// Background work ended.
    Worked,
}

/// One open project.
pub struct Open {
    /// Its files.
    pub store: Store,
    /// Its background work.
    pub work: Work,
    /// Levels against time of its recordings.
    pub histories: Histories,
    scene: Mutex<Option<Arc<Scene>>>,
    /// Predictions of build-ups that were made before.
    pub cache: Mutex<Cache>,
    /// The build-up whose slider was moved last.
    pub slide: Mutex<Option<Slide>>,
}

impl Open {
    /// The project as it stands on the disk now.
    ///
    /// # Errors
    /// [`StoreError`] where it cannot be read.
    pub fn scene(&self) -> Result<Arc<Scene>, StoreError> {
        let texts = self.store.texts()?;
        let mut kept = self.scene.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(scene) = kept.as_ref().filter(|s| s.fresh(self.store.folder(), &texts)) {
            return Ok(scene.clone());
        }
        let mut cache = self.cache.lock().unwrap_or_else(PoisonError::into_inner);
        let scene = Arc::new(Scene::new(self.store.folder(), texts, None, &mut cache));
        *kept = Some(scene.clone());
        Ok(scene)
    }
}

/// The desk.
pub struct Desk {
    /// Names under which requests may come.
    pub hosts: Vec<String>,
    /// Name of the cookie with the key; it holds the port, because cookies do not tell ports apart.
    pub cookie: String,
    /// The key.
    pub key: String,
    /// What pages are told.
    pub events: broadcast::Sender<Event>,
    /// The demonstration while it is made.
    pub making: Making,
    /// Phones, where the desk is shared.
    pub share: Option<Share>,
    open: RwLock<Option<Arc<Open>>>,
}

impl Desk {
    /// The open project.
    pub fn project(&self) -> Option<Arc<Open>> {
        self.open.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Opens a project folder in place of the one that is open.
    ///
    /// # Errors
    /// [`StoreError`] when the folder holds no project or cannot be read.
    pub fn open(&self, folder: &Path) -> Result<(), StoreError> {
        let name = wythe_project::PROJECT_FILE;
        if !folder.join(name).is_file() {
            return Err(StoreError::Disk(format!("{} holds no {name}", folder.display())));
        }
        let open = Arc::new(Open {
            store: Store::open(folder)?,
            work: Work::new(self.events.clone()),
            histories: Histories::default(),
            scene: Mutex::default(),
            cache: Mutex::default(),
            slide: Mutex::default(),
        });
        recent::remember(open.store.folder());
        let old = self.open.write().unwrap_or_else(PoisonError::into_inner).replace(open);
        if let Some(old) = old {
            old.work.stop();
        }
        let _ = self.events.send(Event::Changed);
        Ok(())
    }
}

/// Runs the desk until the process ends. `started` is told the address with its key once the desk
/// listens.
///
/// # Errors
/// [`DeskError`].
pub fn serve(options: &Options, started: impl FnOnce(&Started)) -> Result<(), DeskError> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(DeskError::System)?;
    runtime.block_on(run(options, started))
}

async fn run(options: &Options, started: impl FnOnce(&Started)) -> Result<(), DeskError> {
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, options.port));
    let listen = |cause| DeskError::Listen { address, cause };
    let listener = tokio::net::TcpListener::bind(address).await.map_err(listen)?;
    let port = listener.local_addr().map_err(listen)?.port();
    let shared = match &options.share {
        None => None,
        Some(said) => {
            let address = share::address(said)?;
            let listen = |cause| DeskError::Listen { address, cause };
            let door = tokio::net::TcpListener::bind(address).await.map_err(listen)?;
            let at = door.local_addr().map_err(listen)?;
            Some((door, Share::new(at).map_err(DeskError::System)?))
        }
    };
    let (door, share) = shared.unzip();
    let hosts = vec![format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    let desk = Arc::new(Desk {
        cookie: format!("wythe_desk_{port}"),
        key: guard::secret().map_err(DeskError::System)?,
        events: broadcast::channel(64).0,
        open: RwLock::default(),
        making: Making::default(),
        share,
        hosts,
    });
    if let Some(folder) = &options.folder {
        desk.open(folder)?;
    }
    tokio::spawn(look_for_changes(desk.clone()));
    started(&Started {
        address: format!("http://127.0.0.1:{port}/?key={}", desk.key),
        share: desk
            .share
            .as_ref()
            .and_then(|s| Some((s.address.clone(), s.code(Duration::ZERO)?.0))),
    });
    if let Some(door) = door {
        tokio::spawn(share::serve(door, desk.clone()));
    }
    axum::serve(listener, routes::router(desk)).await.map_err(DeskError::System)
}

/// How often the files are looked at for changes by other programs.
const LOOK_EVERY: Duration = Duration::from_millis(1000);

/// Tells the pages when another program changed the project.
async fn look_for_changes(desk: Arc<Desk>) {
    let mut last: Option<(PathBuf, String)> = None;
    loop {
        tokio::time::sleep(LOOK_EVERY).await;
        if desk.events.receiver_count() == 0 {
            continue;
        }
        let Some(open) = desk.project() else { continue };
        let Ok(Ok(scene)) = tokio::task::spawn_blocking(move || {
            open.scene().map(|s| (open.store.folder().to_owned(), s.mark()))
        })
        .await
        else {
            continue;
        };
        if last.as_ref().is_some_and(|l| *l != scene) {
            let _ = desk.events.send(Event::Changed);
        }
        last = Some(scene);
    }
}
