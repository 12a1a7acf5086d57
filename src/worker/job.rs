//! What goes to a worker and what comes back, as the JSON of a frame.

use crate::codec;
use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::relation::Relation;
use crate::pipeline::likeness::turn::Turn;
use crate::pipeline::mockup::family;
use crate::pipeline::sketch::Sketch;
use crate::pipeline::{Order, Product, Wants, mockup};
use crate::spec::{Repeat, Spec};
use crate::ticket::Ticket;
use crate::ticket::word::Mark;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::time::Duration;

/// What a worker may use for one job. Renewed for each job, since one process serves many.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limits {
    /// Most bytes of address space.
    pub memory: u64,
    /// Most processor time for the job; the wall clock gets twice as long before the worker is ended.
    pub time: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self { memory: 2_000_000_000, time: Duration::from_mins(2) }
    }
}

/// One job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// The tile's name as people read it, for captions and the ticket.
    pub name: String,
    /// What it is judged against.
    pub spec: Spec,
    /// What is wanted.
    pub wants: Wants,
    /// How mock-ups are drawn.
    pub mockup: mockup::Settings,
    /// An existing folder for what is made; files in it are replaced.
    pub scratch: String,
    /// The limits.
    pub limits: Limits,
    /// What the artist let pass of this content; `None` where there is no folder let-pass.
    pub let_pass: Option<BTreeSet<Mark>>,
}

impl Job {
    /// The order of the pipeline that this job is.
    #[must_use]
    pub fn order<'a>(&'a self, limits: &'a codec::Limits) -> Order<'a> {
        Order {
            name: &self.name,
            spec: &self.spec,
            wants: self.wants,
            mockup: &self.mockup,
            limits,
            let_pass: self.let_pass.as_ref(),
        }
    }
}

/// The fixed name of a product in the scratch folder.
#[must_use]
pub fn scratch_name(product: Product) -> String {
    match product {
        Product::Mended => "mended.png".into(),
        Product::Repeat => "repeat.jpg".into(),
        Product::StrikeOff => "strike-off.jpg".into(),
        Product::Held => "held.png".into(),
        Product::BeforeAfter => "before-after.png".into(),
        Product::PartlyMended => "partly-mended.png".into(),
        Product::Filled => "filled.png".into(),
        Product::Companion(wish) => format!("{}.png", wish.file_word()),
    }
}

/// One file in the scratch folder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Made {
    /// What it is.
    pub product: Product,
    /// The BLAKE3 hash of its bytes, 64 hexadecimal digits.
    pub blake3: String,
}

/// Two tiles to be compared; their files come beside it in this order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// What of each is to be compared.
    pub looks: [Looked; 2],
    /// Whether their drawing is so plain that every pixel must follow.
    pub plain: bool,
    /// The limits.
    pub limits: Limits,
}

/// A look of a tile that is to be compared.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Looked {
    /// How it is laid.
    pub repeat: Repeat,
    /// How often the smallest straight repeat lies in its own.
    pub copies: [u32; 2],
}

/// A contact sheet to be drawn; the files of its tiles come beside it in their order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contact {
    /// What it says above.
    pub heading: family::Heading,
    /// Its tiles, and how each is laid down before it is shown.
    pub entries: Vec<(family::Entry, Turn)>,
    /// The file in an existing folder that is written.
    pub picture: String,
    /// The limits.
    pub limits: Limits,
}

/// What a worker is asked, as it crosses the socket.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Errand {
    /// One tile to be judged.
    Tile(Box<Job>),
    /// Two to be compared.
    Compare(Comparison),
    /// Several to be pictured.
    Contact(Contact),
}

impl Errand {
    /// What it may use.
    #[must_use]
    pub fn limits(&self) -> Limits {
        match self {
            Self::Tile(job) => job.limits,
            Self::Compare(comparison) => comparison.limits,
            Self::Contact(contact) => contact.limits,
        }
    }
}

/// The answer to a tile's job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Reply {
    /// It is judged; the files lie in the scratch folder.
    Done {
        /// The ticket; its verdict is what holds after mending.
        ticket: Box<Ticket>,
        /// What was made.
        made: Vec<Made>,
        /// What is kept of it to find its twins, where that was wanted and it could be opened.
        likeness: Option<Box<Likeness>>,
        /// What is kept of it to know its drawing under a name again, likewise.
        sketch: Option<Box<Sketch>>,
    },
    /// The worker could not read or write, which is not the tile's fault.
    Failed {
        /// What went wrong and what to do.
        why: String,
    },
}

/// The answer to any errand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Answer {
    /// To a tile's job.
    Tile(Reply),
    /// The two are compared.
    Compared(Option<Relation>),
    /// The sheet is drawn; the BLAKE3 hash of its bytes, 64 hexadecimal digits.
    Drawn(String),
    /// The worker could not read or write, which is no tile's fault.
    Failed {
        /// What went wrong and what to do.
        why: String,
    },
}
