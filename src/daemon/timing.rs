//! Tells the owner when a letter is due.
//!
//! Looks every few seconds, so that a clock that was set or a machine that slept is noticed; reads through the ledger only
//! when something in it changed.

use super::happening::Happening;
use super::hours;
use super::news;
use super::shop::Shop;
use crate::clock::Tick;
use crate::digest::{self, Waiting};
use crate::ledger::LedgerError;
use jiff::Timestamp;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, SystemTime};
use tokio::sync::mpsc;

/// How often it is asked whether a letter is due.
const LOOK: Duration = Duration::from_secs(5);
/// How long after a look without news, or after a try that wrote no letter, the next one is made.
const AGAIN: Duration = Duration::from_secs(300);

/// What was found at the last change and the last letter, by their numbers.
#[derive(Clone, Debug)]
struct Seen {
    state: (i64, i64),
    waiting: Waiting,
}

/// Tells the owner of every letter that is due, until the owner has ended.
pub async fn tell_letters(shop: Arc<Shop>, sender: mpsc::Sender<Happening>) {
    let zone = hours::zone(&shop.config);
    let began = shop.clock.wall();
    let mut seen: Option<Seen> = None;
    // After a try: which letter was the last then, and from when on there may be another try without a new one.
    let mut tried: Option<(i64, Tick)> = None;
    let mut look_again = shop.clock.tick().after(AGAIN);
    loop {
        let tick = shop.clock.tick();
        if tick >= look_again {
            // Some changes have no number: an original that is gone, an exchange that was cut off and is finished.
            seen = None;
            look_again = tick.after(AGAIN);
        }
        let (asked, before) = (Arc::clone(&shop), seen.take());
        let busy = shop.busy.load(Ordering::Relaxed);
        match tokio::task::spawn_blocking(move || look(&asked, before, busy, began)).await {
            Ok(Ok(found)) => seen = Some(found),
            Ok(Err(error)) => tracing::warn!(%error, "whether a letter is due could not be seen"),
            Err(error) => tracing::error!(%error, "a look for what is to be told failed; please report this"),
        }
        if let Some(Seen { state: (_, letters), waiting }) = seen.clone()
            && let Ok(now) = Timestamp::try_from(shop.clock.wall())
            && tried.is_none_or(|(then, again)| letters != then || tick >= again)
        {
            let waiting = Waiting { busy, ..waiting };
            if digest::due(&shop.config.digest.when, &zone, &waiting, now) {
                tried = Some((letters, tick.after(AGAIN)));
                seen = None;
                if sender.send(Happening::LetterDue).await.is_err() {
                    return;
                }
            }
        }
        tokio::time::sleep(LOOK).await;
    }
}

/// What waits to be told; what was found `before` still holds while no change and no letter came, and is good enough while a
/// first pass goes over a folder of which nothing was told yet, since nothing is told before its end.
fn look(shop: &Shop, before: Option<Seen>, busy: bool, began: SystemTime) -> Result<Seen, LedgerError> {
    let state = {
        let ledger = shop.ledger();
        (ledger.last_change()?, ledger.letters()?)
    };
    match before.filter(|seen| seen.state == state || (busy && state.1 == 0)) {
        Some(seen) => Ok(seen),
        None => Ok(Seen { state, waiting: news::waiting(&shop.config, &shop.another_ledger()?, began)? }),
    }
}
