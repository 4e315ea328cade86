//! What every command shares: reading input, printing JSON and schemas, and how a command fails.

use std::io::{Read, Write};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use utoipa::ToSchema;

/// How a command ends when it does not end well. The text is one plain sentence for stderr.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The input is at fault: exit code 2.
    #[error("{0}")]
    BadInput(String),
    /// The machine or a file is at fault: exit code 1.
    #[error("{0}")]
    Failed(String),
}

impl Failure {
    /// The process's exit code.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::BadInput(_) => 2,
            Self::Failed(_) => 1,
        }
    }

    /// Bad input, told by any error's own sentence.
    pub fn bad_input(error: impl std::fmt::Display) -> Self {
        Self::BadInput(error.to_string())
    }

    /// A failure, told by any error's own sentence.
    pub fn failed(error: impl std::fmt::Display) -> Self {
        Self::Failed(error.to_string())
    }
}

/// The bytes of a file, or of stdin for `-`.
pub fn read_bytes(path: &str) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let outcome = if path == "-" {
        std::io::stdin().lock().read_to_end(&mut bytes).map(|_| ())
    } else {
        std::fs::read(path).map(|read| bytes = read)
    };
    outcome.map_err(|error| Failure::BadInput(format!("{path} cannot be read ({error}); nothing was written.")))?;
    Ok(bytes)
}

/// The text of a calculation's input: stdin for none or `-`, the text itself when it starts with `{` or `[`,
/// else the file of that name.
pub fn read_text(input: Option<&str>) -> Result<String, Failure> {
    let input = input.unwrap_or("-");
    if input.trim_start().starts_with(['{', '[']) {
        return Ok(input.to_owned());
    }
    let bytes = read_bytes(input)?;
    String::from_utf8(bytes).map_err(|_| Failure::BadInput(format!("{input} is not UTF-8 text; nothing was computed.")))
}

/// JSON text as a value of the kind that `what` names.
pub fn parse_json<T: DeserializeOwned>(text: &str, what: &str) -> Result<T, Failure> {
    serde_json::from_str(text).map_err(|error| Failure::BadInput(format!("{what} is not understood: {error}.")))
}

/// Writes one line to stdout; a reader that closed the pipe is a normal end.
pub fn write_line(line: &str) -> Result<(), Failure> {
    write_bytes(format!("{line}\n").as_bytes())
}

/// Writes bytes to stdout; a reader that closed the pipe is a normal end.
pub fn write_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => std::process::exit(0),
        Err(error) => Err(Failure::Failed(format!("the answer cannot be written ({error})."))),
        Ok(()) => Ok(()),
    }
}

/// Writes a text file whole.
pub fn write_file(name: &str, text: &str) -> Result<(), Failure> {
    std::fs::write(name, text).map_err(|error| Failure::Failed(format!("{name} cannot be written ({error}).")))
}

/// Prints a value as JSON, one document, readable.
pub fn print_json<T: Serialize>(value: &T) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(Failure::failed)?;
    write_line(&text)
}

/// Prints the JSON Schema (2020-12) of a command's `input` and `output`.
pub fn print_schema<In: ToSchema, Out: ToSchema>(title: &str) -> Result<(), Failure> {
    let mut parts = Vec::new();
    In::schemas(&mut parts);
    Out::schemas(&mut parts);
    parts.push((In::name().into_owned(), In::schema()));
    parts.push((Out::name().into_owned(), Out::schema()));
    let mut definitions = serde_json::Map::new();
    for (name, part) in parts {
        definitions.insert(name, serde_json::to_value(part).map_err(Failure::failed)?);
    }
    let mut document = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        "type": "object",
        "properties": {
            "input": {"$ref": format!("#/$defs/{}", In::name())},
            "output": {"$ref": format!("#/$defs/{}", Out::name())},
        },
        "$defs": definitions,
    });
    point_into_definitions(&mut document);
    print_json(&document)
}

/// References as OpenAPI writes them, turned into references within one JSON Schema.
fn point_into_definitions(value: &mut Value) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map.iter_mut() {
                match inner {
                    Value::String(target) if key == "$ref" => {
                        *target = target.replace("#/components/schemas/", "#/$defs/")
                    }
                    _ => point_into_definitions(inner),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(point_into_definitions),
        _ => {}
    }
}

/// The input of a command that takes none but its arguments.
#[derive(ToSchema)]
pub struct NoInput {}
