//! Opens a journal for reading and folds it into voyages; picks a set in it.

use std::path::Path;

use quantity::UtcInstant;
use voyage::{Book, Logged, SetRecord, VoyageRecord};

use crate::plumbing::Failure;

/// The book of a journal, and how many entries it was drawn from. Never makes or changes a file.
///
/// # Errors
/// [`Failure::BadInput`] when there is no such journal or it is none, [`Failure::Failed`] when it cannot be read on.
pub fn open_book(path: &Path) -> Result<(Book, u64), Failure> {
    open_book_at(path, None)
}

/// The same as it stood at a moment: what happened later, by the ship's time, is left out.
///
/// # Errors
/// As [`open_book`].
pub fn open_book_at(path: &Path, at: Option<UtcInstant>) -> Result<(Book, u64), Failure> {
    if !path.is_file() {
        return Err(Failure::BadInput(format!("{} is not there; nothing was read or made.", path.display())));
    }
    let reader = journal::Journal::open_read_only(path).map_err(Failure::bad_input)?;
    let mut events = Vec::new();
    for row in reader.rows() {
        let row = row.map_err(Failure::failed)?;
        let event = voyage::read_event(&row.body).map_err(|refusal| {
            Failure::Failed(format!(
                "entry {} of {} cannot be read ({refusal}); run gangion journal verify.",
                row.ship_seq,
                path.display()
            ))
        })?;
        events.push(Logged { ship_seq: row.ship_seq, event });
    }
    let entries = u64::try_from(events.len()).unwrap_or(u64::MAX);
    let book = at.map_or_else(|| voyage::fold(&events, None), |at| voyage::fold_until(&events, at));
    Ok((book, entries))
}

/// The set of a number in a voyage, named by its number or id; the last voyage where none is named.
///
/// # Errors
/// [`Failure::BadInput`] naming what there is.
pub fn pick_set<'a>(
    book: &'a Book,
    voyage: Option<&str>,
    set: usize,
) -> Result<(&'a VoyageRecord, &'a SetRecord), Failure> {
    let picked = match voyage {
        None => book.voyages.last(),
        Some(name) => {
            book.voyages.iter().find(|voyage| voyage.id.as_deref() == Some(name) || name.parse() == Ok(voyage.number))
        }
    };
    let Some(picked) = picked else {
        let there: Vec<String> = book.voyages.iter().map(|voyage| voyage.number.to_string()).collect();
        return Err(Failure::BadInput(match (voyage, there.is_empty()) {
            (Some(name), false) => {
                format!("There is no voyage {name} in this journal; it has {}.", list("voyage", &there))
            }
            _ => "This journal has no voyage yet.".to_owned(),
        }));
    };
    let found = picked.sets.iter().find(|record| record.number == set);
    found.map(|record| (picked, record)).ok_or_else(|| {
        let there: Vec<String> = picked.sets.iter().map(|record| record.number.to_string()).collect();
        Failure::BadInput(if there.is_empty() {
            format!("There is no set {set} in voyage {}; it has no set yet.", picked.number)
        } else {
            format!("There is no set {set} in voyage {}; it has {}.", picked.number, list("set", &there))
        })
    })
}

/// `set 1`, `sets 1 and 2`, `sets 1, 2 and 3`.
fn list(what: &str, names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => format!("{what} {one}"),
        [first @ .., last] => format!("{what}s {} and {last}", first.join(", ")),
    }
}
