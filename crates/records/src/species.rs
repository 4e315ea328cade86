//! English names of species codes: a small table of facts after FAO (ASFIS / RefData 2024.1.1), see `data/SOURCE.md`.

/// Where the names come from, for the foot of a page.
pub const SOURCE: &str = "Species codes and names: FAO, ASFIS / RefData 2024.1.1.";

const TABLE: &str = include_str!("../data/species.csv");

/// The English name of an alpha-3 code, where the table has it.
#[must_use]
pub fn english_name(alpha3: &str) -> Option<&'static str> {
    TABLE.lines().skip(1).find_map(|line| {
        let (code, rest) = line.split_once(',')?;
        if code != alpha3 {
            return None;
        }
        let (_, rest) = rest.split_once(',')?;
        let (english, _) = rest.rsplit_once(',')?;
        let english = english.trim_matches('"');
        (!english.is_empty()).then_some(english)
    })
}
