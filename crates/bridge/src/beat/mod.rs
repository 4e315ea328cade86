//! The ship's beat: the server owns it, the ship's horn sounds it, screens mirror it, people change it by orders.
//!
//! What is due is reckoned by `voyage` from the journal alone. Here live the keeper, who follows the journal, tells the
//! screens and writes down silences; the horn, which plays the score; and the orders, each of which becomes one event
//! with a whole anchor. An order and an anchor that a device without a link wrote by itself cannot fight: both are whole
//! anchors at the thing clipped last, and of two such the fold takes the later `at`, then the later received.

pub(crate) mod horn;
pub(crate) mod keeper;
pub(crate) mod memory;
pub(crate) mod order;
pub(crate) mod play;
pub(crate) mod view;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, RwLock};

use tokio::sync::watch;
use voyage::beat::Laying;

use horn::Sounding;
pub use horn::{Voice, VoiceError, VoiceMaker};
use view::BeatView;

/// What the keeper, the horn and the handlers share.
#[derive(Debug)]
pub(crate) struct Desk {
    /// The line that is being laid, as last folded.
    laying: RwLock<Option<Arc<Laying>>>,
    /// What the horn says of itself; none where the ship's computer does not sound.
    pub(crate) sounding: Mutex<Option<Sounding>>,
    /// What screens were last told.
    told: watch::Sender<Option<Arc<BeatView>>>,
    /// Held while an order is carried out, so that each starts from the one before.
    pub(crate) ordering: Mutex<()>,
    /// Where it is kept until when tones sounded.
    pub(crate) memory: PathBuf,
    /// The horn, where there is one.
    pub(crate) voice: Option<VoiceMaker>,
}

impl Desk {
    pub(crate) fn new(data: &Path, voice: Option<VoiceMaker>) -> Self {
        Self {
            laying: RwLock::default(),
            sounding: Mutex::new(voice.as_ref().map(|_| Sounding::default())),
            told: watch::Sender::new(None),
            ordering: Mutex::default(),
            memory: data.join("beat.json"),
            voice,
        }
    }

    pub(crate) fn laying(&self) -> Option<Arc<Laying>> {
        self.laying.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn lay(&self, laying: Option<Arc<Laying>>) {
        *self.laying.write().unwrap_or_else(PoisonError::into_inner) = laying;
    }

    pub(crate) fn sounding(&self) -> Option<Sounding> {
        self.sounding.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn tell(&self, view: BeatView) {
        self.told.send_replace(Some(Arc::new(view)));
    }

    pub(crate) fn watch(&self) -> watch::Receiver<Option<Arc<BeatView>>> {
        self.told.subscribe()
    }
}
