//! Cuts the body of a post into the events in it, each byte for byte as its device made it.
//!
//! Not by a JSON reader: one event that cannot be read must not keep the others of its batch from being taken. The
//! grammar of strings, arrays and objects is that of RFC 8259, sections 2, 4, 5 and 7; whether an event itself is
//! sound is judged later, one by one.

/// Why a body holds no events.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CutError {
    /// Nothing in it.
    #[error("the post is empty")]
    Empty,
    /// Starts as neither an object nor an array.
    #[error("the post is neither an event nor a JSON array of events")]
    Neither,
    /// The array never ends, or something follows it.
    #[error("the array of events is not closed where it should be")]
    Unclosed,
    /// More events than one post may hold.
    #[error("the post holds more than {most} events; send them in smaller batches")]
    TooMany {
        /// The most that are taken at once.
        most: usize,
    },
}

/// The events of a body: one object, or the elements of an array.
///
/// # Errors
/// [`CutError`]; then nothing of the post was taken.
pub fn cut(body: &[u8], most: usize) -> Result<Vec<&[u8]>, CutError> {
    let body = body.trim_ascii();
    match body.first() {
        None => Err(CutError::Empty),
        Some(b'{') => Ok(vec![body]),
        Some(b'[') => elements(body, most),
        Some(_) => Err(CutError::Neither),
    }
}

fn elements(body: &[u8], most: usize) -> Result<Vec<&[u8]>, CutError> {
    let mut found = Vec::new();
    let (mut depth, mut in_string, mut escaped, mut from) = (0_usize, false, false, 1);
    for (at, &byte) in body.iter().enumerate() {
        if in_string {
            match byte {
                _ if escaped => escaped = false,
                b'\\' => escaped = true,
                b'"' => in_string = false,
                _ => {}
            }
            continue;
        }
        match byte {
            b'"' => in_string = true,
            b'[' | b'{' => depth += 1,
            b'}' if depth <= 1 => return Err(CutError::Unclosed),
            b'}' => depth -= 1,
            b',' | b']' if depth == 1 => {
                let element = body[from..at].trim_ascii();
                // `[]` holds nothing; any other gap is an element that will be refused by itself.
                if byte == b',' || !element.is_empty() || !found.is_empty() {
                    if found.len() == most {
                        return Err(CutError::TooMany { most });
                    }
                    found.push(element);
                }
                from = at + 1;
                if byte == b']' {
                    return if from == body.len() { Ok(found) } else { Err(CutError::Unclosed) };
                }
            }
            b']' => depth -= 1,
            _ => {}
        }
    }
    Err(CutError::Unclosed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::value::RawValue;

    #[test]
    fn verif_the_cut_agrees_with_a_json_reader_byte_for_byte() {
        let bodies = [
            r#"[]"#,
            r#" [ {"a":"]},{\"\\"} , {"b":[1,{"c":[]}]},7,"x,y" ] "#,
            r#"[{"text":"日本語 \u0022 ],["}]"#,
            "[\n{\"a\": 1},\r\n\t{\"a\": 1}\n]",
        ];
        for body in bodies {
            let theirs: Vec<&RawValue> = serde_json::from_str(body).unwrap();
            let ours = cut(body.as_bytes(), 100).unwrap();
            let theirs: Vec<&[u8]> = theirs.iter().map(|raw| raw.get().as_bytes()).collect();
            assert_eq!(ours, theirs, "{body}");
        }
        assert_eq!(cut(b"\n {\"a\":1}\n", 1).unwrap(), [b"{\"a\":1}".as_slice()]);
    }

    #[test]
    fn verif_a_rotten_event_leaves_its_neighbours_whole() {
        let found = cut(b"[{\"a\":1},{\"b\":\xff\xfe nonsense},{\"c\":3},]", 9).unwrap();
        assert_eq!(found.len(), 4);
        assert_eq!(found[2], b"{\"c\":3}");
        assert!(found[3].is_empty());
    }

    #[test]
    fn verif_what_is_no_batch_is_told_so() {
        assert_eq!(cut(b"  ", 9), Err(CutError::Empty));
        assert_eq!(cut(b"hello", 9), Err(CutError::Neither));
        for open in ["[", "[{\"a\":1}", "[{\"a\":\"]", "[1]]", "[1]{}", "[}", "[{}}]"] {
            assert_eq!(cut(open.as_bytes(), 9), Err(CutError::Unclosed), "{open}");
        }
        assert_eq!(cut(b"[1,2,3]", 2), Err(CutError::TooMany { most: 2 }));
        let deep = [vec![b'['; 100_000], vec![b']'; 100_000]].concat();
        assert_eq!(cut(&deep, 9).unwrap().len(), 1, "depth costs no stack");
    }
}
