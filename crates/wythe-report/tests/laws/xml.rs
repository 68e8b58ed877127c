//! A small checker of well-formedness: tags nest, attributes are quoted and unique, entities are
//! known, no character is forbidden. Extensible Markup Language 1.0 (fifth edition), 2.1 to 2.4,
//! 3.1 and 4.1 (from memory).

/// Says what is wrong and where, or nothing.
pub fn check(text: &str) -> Result<(), String> {
    let mut open: Vec<String> = Vec::new();
    let mut roots = 0;
    let mut rest = text;
    while let Some(at) = rest.find('<') {
        characters(&rest[..at])?;
        if open.is_empty() && !rest[..at].trim().is_empty() {
            return Err(format!("text outside the root: {:?}", &rest[..at]));
        }
        rest = &rest[at + 1..];
        let end = rest.find('>').ok_or("a tag never ends")?;
        let tag = &rest[..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let top = open.pop().ok_or(format!("</{name}> closes nothing"))?;
            if top != name {
                return Err(format!("</{name}> closes <{top}>"));
            }
            continue;
        }
        let (tag, alone) = match tag.strip_suffix('/') {
            Some(tag) => (tag, true),
            None => (tag, false),
        };
        let name: String = tag.chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
        if name.is_empty() {
            return Err(format!("no name in <{tag}>"));
        }
        attributes(&tag[name.len()..])?;
        if open.is_empty() {
            roots += 1;
        }
        if name == "style" && !alone {
            // The sheet of a picture that travels alone; it may hold no tag.
            let end = rest.find("</style>").ok_or("a style sheet never ends")?;
            characters(&rest[..end])?;
            if rest[..end].contains('<') {
                return Err("a tag inside a style sheet".into());
            }
        }
        if !alone {
            open.push(name);
        }
    }
    characters(rest)?;
    match (open.last(), roots) {
        (Some(name), _) => Err(format!("<{name}> never closes")),
        (None, 1) => Ok(()),
        (None, n) => Err(format!("{n} roots")),
    }
}

fn attributes(mut text: &str) -> Result<(), String> {
    let mut seen = std::collections::BTreeSet::new();
    loop {
        let trimmed = text.trim_start();
        if trimmed.is_empty() {
            return Ok(());
        }
        if trimmed.len() == text.len() {
            return Err(format!("no space before {text:?}"));
        }
        let (name, value) = trimmed.split_once("=\"").ok_or(format!("no value: {trimmed:?}"))?;
        let fit = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == ':';
        if name.is_empty() || !name.chars().all(fit) {
            return Err(format!("no attribute name: {name:?}"));
        }
        if !seen.insert(name.to_owned()) {
            return Err(format!("{name} twice"));
        }
        let (value, after) = value.split_once('"').ok_or("a value never ends")?;
        characters(value)?;
        text = after;
    }
}

fn characters(text: &str) -> Result<(), String> {
    if let Some(c) = text.chars().find(|c| {
        (*c < ' ' && !matches!(c, '\t' | '\n' | '\r')) || matches!(c, '\u{FFFE}' | '\u{FFFF}')
    }) {
        return Err(format!("forbidden character {c:?}"));
    }
    for (at, _) in text.match_indices('&') {
        let entity = text[at + 1..].split(';').next().unwrap_or("");
        if !matches!(entity, "amp" | "lt" | "gt" | "quot" | "#39") {
            return Err(format!(
                "unknown entity &{}",
                &text[at + 1..].chars().take(12).collect::<String>()
            ));
        }
    }
    Ok(())
}

#[test]
fn the_checker_finds_what_is_wrong() {
    assert_eq!(check("<a b=\"c &lt; d\"><e/></a>\n"), Ok(()));
    for bad in [
        "<a>",
        "<a></b>",
        "<a b=c/>",
        "<a b=\"1\" b=\"2\"/>",
        "<a>&nbsp;</a>",
        "<a/><b/>",
        "<a>\u{1}</a>",
        "<a b=\"1\"c=\"2\"/>",
        "x<a/>",
        "",
    ] {
        assert!(check(bad).is_err(), "{bad:?}");
    }
}
