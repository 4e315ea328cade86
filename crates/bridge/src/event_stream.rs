//! Bytes of a server-sent event stream.
//!
//! Source: WHATWG, HTML Living Standard, section 9.2 "Server-sent events" (9.2.5 "Parsing an event stream", 9.2.6
//! "Interpreting an event stream"): UTF-8 lines ended by CRLF, LF or CR; `data` lines are joined by LF; an event is
//! sent off by an empty line; a line that starts with a colon is a comment; `id` stands until another one comes.

/// A comment, sent when nothing else is, so that both ends see that the line is alive.
pub const HEARTBEAT: &str = ": alive\n\n";

/// One event. Without an id the reader's last id stands, so that only journal rows move its place.
#[must_use]
pub fn frame(name: &str, id: Option<&str>, data: &str) -> String {
    let mut text = String::with_capacity(data.len() + 96);
    if let Some(id) = id {
        text.push_str("id: ");
        text.push_str(id);
        text.push('\n');
    }
    text.push_str("event: ");
    text.push_str(name);
    text.push('\n');
    // A line end of any sort within the data would begin a new field.
    for line in data.replace("\r\n", "\n").split(['\n', '\r']) {
        text.push_str("data: ");
        text.push_str(line);
        text.push('\n');
    }
    text.push('\n');
    text
}

/// How long the reader waits before it comes again, milliseconds.
#[must_use]
pub fn retry(after_ms: u32) -> String {
    format!("retry: {after_ms}\n\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a reader makes of a stream: (last id, event name, data).
    fn interpret(stream: &str) -> Vec<(String, String, String)> {
        let (mut last_id, mut name, mut data, mut found) = (String::new(), String::new(), String::new(), Vec::new());
        let stream = stream.replace("\r\n", "\n").replace('\r', "\n");
        let mut lines: Vec<&str> = stream.split('\n').collect();
        // What follows the last line end is no line.
        lines.pop();
        for line in lines {
            if line.is_empty() {
                if !data.is_empty() {
                    data.pop();
                    let kind = if name.is_empty() { "message".to_owned() } else { name.clone() };
                    found.push((last_id.clone(), kind, std::mem::take(&mut data)));
                }
                data.clear();
                name.clear();
                continue;
            }
            if line.starts_with(':') {
                continue;
            }
            let (field, value) = line.split_once(':').unwrap_or((line, ""));
            let value = value.strip_prefix(' ').unwrap_or(value);
            match field {
                "event" => name = value.to_owned(),
                "data" => {
                    data.push_str(value);
                    data.push('\n');
                }
                "id" if !value.contains('\0') => last_id = value.to_owned(),
                _ => {}
            }
        }
        found
    }

    /// Source: WHATWG HTML, section 9.2.6, the examples after the parsing rules ("stock ticker", "test stream",
    /// "data" with and without a space). Tolerance: none; difference seen: none.
    #[test]
    fn val_the_reader_agrees_with_the_standards_examples() {
        let ticker = interpret("data: YHOO\ndata: +2\ndata: 10\n\n");
        assert_eq!(ticker, [(String::new(), "message".to_owned(), "YHOO\n+2\n10".to_owned())]);
        let blocks = ": test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n\n";
        let found = interpret(blocks);
        assert_eq!(found.len(), 3);
        assert_eq!((found[0].0.as_str(), found[0].2.as_str()), ("1", "first event"));
        assert_eq!((found[1].0.as_str(), found[1].2.as_str()), ("", "second event"), "an empty id takes the id away");
        assert_eq!(found[2].2, " third event", "one space only is taken off");
        let events = interpret("data\n\ndata\ndata\n\ndata:");
        let data: Vec<&str> = events.iter().map(|event| event.2.as_str()).collect();
        assert_eq!(data, ["", "\n"], "the last block is not ended and is dropped");
        assert_eq!(interpret("data:test\n\ndata: test\n\n").iter().filter(|event| event.2 == "test").count(), 2);
    }

    /// Source: WHATWG HTML, section 9.2.6 (interpretation by the rules above). Tolerance: none.
    #[test]
    fn val_what_is_framed_is_what_a_reader_gets() {
        let body = "{\r\n \"text\": \"two\\nlines\",\r\"more\": 1\n}";
        let stream = [
            retry(1000),
            frame("hello", None, "{}"),
            frame("kept", Some("e.7"), body),
            HEARTBEAT.to_owned(),
            frame("ship", None, "1"),
        ]
        .concat();
        let found = interpret(&stream);
        assert_eq!(found[0], (String::new(), "hello".to_owned(), "{}".to_owned()));
        assert_eq!((found[1].0.as_str(), found[1].1.as_str()), ("e.7", "kept"));
        let json = |text: &str| serde_json::from_str::<serde_json::Value>(text).unwrap();
        assert_eq!(json(&found[1].2), json(body));
        assert_eq!(found[2].0, "e.7", "an event without an id leaves the reader's place where it was");
        assert_eq!(found.len(), 3, "a heartbeat is no event");
    }
}
