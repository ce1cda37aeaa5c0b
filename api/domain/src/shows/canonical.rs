//! One text for one value: JSON as RFC 8785 (Rundgren, Jordan and Erdtman 2020) writes it, to be hashed.
//!
//! Members are sorted by the UTF-16 code units of their names, nothing is blank, strings are escaped as little as
//! may be. Numbers here are whole ones up to 2⁵³, which the RFC writes in plain digits; of other numbers the text is
//! deterministic, but not the RFC's.

use serde_json::Value;

/// The canonical text of a JSON value.
pub fn canonical_json(value: &Value) -> String {
    let mut text = String::new();
    write(value, &mut text);
    text
}

fn write(value: &Value, text: &mut String) {
    match value {
        Value::Array(items) => {
            text.push('[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                write(item, text);
            }
            text.push(']');
        }
        Value::Object(members) => {
            let mut sorted: Vec<(&String, &Value)> = members.iter().collect();
            sorted.sort_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
            text.push('{');
            for (index, (name, member)) in sorted.into_iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                text.push_str(&Value::from(name.as_str()).to_string());
                text.push(':');
                write(member, text);
            }
            text.push('}');
        }
        // The library escapes what the RFC escapes, and writes whole numbers in digits.
        plain => text.push_str(&plain.to_string()),
    }
}
