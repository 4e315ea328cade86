//! Whether an SPDX licence expression can be met from an allow list. Grammar: SPDX Specification 2.3, Annex D
//! ("SPDX license expressions"): `WITH` binds tightest, then `AND`, then `OR`; the old `/` of crates means `OR`.

/// True when the expression can be satisfied using only `list`.
pub fn allowed(expression: &str, list: &[&str]) -> Result<bool, String> {
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    let verdict = either(&words, &mut at, list)?;
    if at == words.len() { Ok(verdict) } else { Err(format!("\"{}\" was not expected", words[at])) }
}

fn either(words: &[&str], at: &mut usize, list: &[&str]) -> Result<bool, String> {
    let mut verdict = both(words, at, list)?;
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        verdict |= both(words, at, list)?;
    }
    Ok(verdict)
}

fn both(words: &[&str], at: &mut usize, list: &[&str]) -> Result<bool, String> {
    let mut verdict = one(words, at, list)?;
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        verdict &= one(words, at, list)?;
    }
    Ok(verdict)
}

fn one(words: &[&str], at: &mut usize, list: &[&str]) -> Result<bool, String> {
    let word = *words.get(*at).ok_or("the expression ends too soon")?;
    *at += 1;
    if word == "(" {
        let verdict = either(words, at, list)?;
        if words.get(*at) != Some(&")") {
            return Err("a bracket is not closed".to_owned());
        }
        *at += 1;
        return Ok(verdict);
    }
    if ["OR", "AND", "WITH", ")"].contains(&word) {
        return Err(format!("\"{word}\" stands where a licence should"));
    }
    if words.get(*at) == Some(&"WITH") {
        let exception = *words.get(*at + 1).ok_or("WITH names no exception")?;
        *at += 2;
        // An exception only ever grants more.
        return Ok(list.contains(&word) || list.contains(&format!("{word} WITH {exception}").as_str()));
    }
    Ok(list.contains(&word))
}

#[test]
fn verif_licence_expressions() {
    let list = ["MIT", "Apache-2.0", "Unicode-3.0"];
    for (expression, expected) in [
        ("MIT", true),
        ("MIT/Apache-2.0", true),
        ("GPL-3.0 OR MIT", true),
        ("GPL-3.0 AND MIT", false),
        ("(MIT OR GPL-3.0) AND Unicode-3.0", true),
        ("MIT AND GPL-3.0 OR Apache-2.0", true),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("GPL-2.0 WITH Classpath-exception-2.0", false),
    ] {
        assert_eq!(allowed(expression, &list), Ok(expected), "{expression}");
    }
    for broken in ["", "MIT OR", "(MIT", "MIT Apache-2.0", "AND"] {
        assert!(allowed(broken, &list).is_err(), "{broken}");
    }
}
