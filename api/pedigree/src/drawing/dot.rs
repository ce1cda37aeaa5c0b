use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::{Descent, NotDrawn, Plant, check};

/// The plants as a graph in the DOT language, parents to children from left to right: seed parents solid, pollen
/// parents bold at the head, sports dashed. Plants of one generation share a rank.
///
/// # Errors
///
/// [`NotDrawn::NoSuchPlant`], [`NotDrawn::Loop`].
pub fn dot(plants: &[Plant]) -> Result<String, NotDrawn> {
    check(plants)?;
    let layers = super::descendants::layers(plants)?;
    let mut text = "digraph pedigree {\n  rankdir=LR;\n  node [shape=box];\n".to_owned();
    for (at, plant) in plants.iter().enumerate() {
        let second = plant.second_line();
        let label = if second.is_empty() {
            quoted(&plant.label)
        } else {
            format!("{}\\n{}", quoted(&plant.label), quoted(&second))
        };
        let _ = writeln!(text, "  p{at} [label=\"{label}\"];");
    }
    for (at, plant) in plants.iter().enumerate() {
        match &plant.descent {
            Descent::Unknown => {}
            Descent::Cross { seed_parent, pollen_parent } => {
                if let Some(parent) = seed_parent {
                    let _ = writeln!(text, "  p{parent} -> p{at} [arrowhead=dot, tooltip=\"seed parent\"];");
                }
                if let Some(parent) = pollen_parent {
                    let _ =
                        writeln!(text, "  p{parent} -> p{at} [arrowhead=odot, tooltip=\"pollen parent\"];");
                }
            }
            Descent::Clone { of, how } => {
                let _ = writeln!(text, "  p{of} -> p{at} [style=dashed, tooltip=\"{}\"];", quoted(how));
            }
        }
    }
    let mut ranks: BTreeMap<usize, String> = BTreeMap::new();
    for (at, layer) in layers.into_iter().enumerate() {
        let _ = write!(ranks.entry(layer).or_default(), " p{at};");
    }
    for names in ranks.values() {
        let _ = writeln!(text, "  {{ rank=same;{names} }}");
    }
    text.push_str("}\n");
    Ok(text)
}

/// Text inside the quotation marks of DOT.
fn quoted(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                safe.push('\\');
                safe.push(c);
            }
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}
