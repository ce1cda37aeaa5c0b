//! Pedigrees drawn: ancestors of one plant, descendants of several, as SVG, as an outline in words, and as DOT.
//!
//! A picture is text made of whole numbers and is the same for the same plants on any machine. It has a title and
//! a description, real text, no script, no style sheet and nothing from elsewhere; what a colour tells is told in
//! words or by a number too. The outline says the same to whoever cannot see the picture.
//!
//! Plants are given as they may be shown: one that is not to be disclosed is a plant with a label that says so.
//!
//! Cost: ancestors, the number of boxes; descendants, a few sweeps over plants and lines that pass through.
//!
//! Sources: K. Sugiyama, S. Tagawa, M. Toda, IEEE Transactions on Systems, Man and Cybernetics 11, 1981, 109-125
//! (layers and barycentres); M. Ayer and others, Annals of Mathematical Statistics 26, 1955, 641-647 (pooling
//! adjacent violators, here for places in a column).

mod ancestors;
mod descendants;
mod dot;

use std::fmt::Write as _;

pub use ancestors::ancestor_chart;
pub use descendants::descendant_chart;
pub use dot::dot;

/// A picture holds at most this many plants.
pub const MOST_PLANTS: usize = 2_000;

/// Where a plant comes from; parents are places in the list of plants.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Descent {
    /// Nothing is known of it, or it is not part of the picture.
    Unknown,
    /// Raised from seed.
    Cross { seed_parent: Option<usize>, pollen_parent: Option<usize> },
    /// From a part of another plant, related as `how` says: `sport of`.
    Clone { of: usize, how: String },
}

/// A plant as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plant {
    pub label: String,
    /// A second line, such as group and year; may be empty.
    pub detail: String,
    /// The coefficient of inbreeding in thousandths, if it is to be told.
    pub inbreeding_per_mille: Option<u16>,
    pub descent: Descent,
}

/// A picture and the same in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing {
    pub svg: String,
    /// One plant a line, indented by two spaces a step.
    pub outline: String,
}

/// Why there is no picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotDrawn {
    /// A plant or a parent is not in the list.
    #[error("there is no plant {place} in the list")]
    NoSuchPlant { place: usize },
    /// More boxes, or lines passing through, than a reader can follow; [`dot`] has no such limit.
    #[error("a picture holds at most {most} boxes or lines")]
    TooLarge { most: usize },
    /// The plant at this place is its own ancestor.
    #[error("plant {place} is its own ancestor")]
    Loop { place: usize },
}

const BOX_WIDTH: i64 = 184;
const BOX_HEIGHT: i64 = 36;
const MARGIN: i64 = 16;
/// Letters of the first line that fit a box, and of the second, in a common sans serif.
const LABEL_LETTERS: usize = 27;
const DETAIL_LETTERS: usize = 34;
/// Pale enough to print text on, and each with its number.
const TINTS: [&str; 6] = ["#dceefb", "#fde8c8", "#e0f2d9", "#f6dff0", "#f9f3c4", "#e3e0f5"];

impl Plant {
    fn parents(&self) -> [Option<usize>; 2] {
        match self.descent {
            Descent::Unknown => [None, None],
            Descent::Cross { seed_parent, pollen_parent } => [seed_parent, pollen_parent],
            Descent::Clone { of, .. } => [Some(of), None],
        }
    }

    fn inbreeding(&self) -> Option<String> {
        let per_mille = self.inbreeding_per_mille?;
        Some(match per_mille % 10 {
            0 => format!("inbreeding {} %", per_mille / 10),
            rest => format!("inbreeding {}.{rest} %", per_mille / 10),
        })
    }

    /// The second line of a box.
    fn second_line(&self) -> String {
        let inbreeding = self.inbreeding().unwrap_or_default();
        let between = if self.detail.is_empty() || inbreeding.is_empty() { "" } else { "; " };
        format!("{}{between}{inbreeding}", self.detail)
    }

    /// The plant in an outline.
    fn spoken(&self) -> String {
        let detail = if self.detail.is_empty() { String::new() } else { format!(" ({})", self.detail) };
        let inbreeding = self.inbreeding().map(|text| format!(", {text}")).unwrap_or_default();
        format!("{}{detail}{inbreeding}", self.label)
    }
}

/// That every parent is in the list.
fn check(plants: &[Plant]) -> Result<(), NotDrawn> {
    for plant in plants {
        for place in plant.parents().into_iter().flatten() {
            if place >= plants.len() {
                return Err(NotDrawn::NoSuchPlant { place });
            }
        }
    }
    Ok(())
}

/// A picture in the making: lines below, boxes on them, words on top.
#[derive(Debug, Default)]
struct Canvas {
    solid: String,
    dashed: String,
    /// Dots where lines meet: filled, open.
    dots: [String; 2],
    /// Boxes by fill: none but white, then the tints.
    boxes: [String; 1 + TINTS.len()],
    labels: String,
    details: String,
    numbers: String,
}

impl Canvas {
    /// A line from the right of one box to the left of another, by the vertical at `bend`.
    fn elbow(&mut self, from: (i64, i64), bend: i64, to: (i64, i64), dashed: bool) {
        let path = if dashed { &mut self.dashed } else { &mut self.solid };
        let _ = if from.1 == to.1 {
            write!(path, "M{} {}H{}", from.0, from.1, to.0)
        } else {
            write!(path, "M{} {}H{bend}V{}H{}", from.0, from.1, to.1, to.0)
        };
    }

    /// A plant with its left edge at `x`, centred on `y`, with the number of a repeated one.
    fn plant(&mut self, plant: &Plant, x: i64, y: i64, number: Option<usize>) {
        let top = y - BOX_HEIGHT / 2;
        let fill = number.map_or(0, |number| 1 + (number - 1) % TINTS.len());
        if let Some(boxes) = self.boxes.get_mut(fill) {
            let _ = write!(
                boxes,
                "<rect x=\"{x}\" y=\"{top}\" width=\"{BOX_WIDTH}\" height=\"{BOX_HEIGHT}\" rx=\"3\"/>"
            );
        }
        let second = plant.second_line();
        let room = if number.is_some() { LABEL_LETTERS - 4 } else { LABEL_LETTERS };
        let (label, left) = (fitted(&plant.label, room), x + 8);
        let base = if second.is_empty() { y + 4 } else { y - 3 };
        // A label that was cut is told whole to a pointer.
        let whole = if label == plant.label {
            String::new()
        } else {
            format!("<title>{}</title>", escaped(&plant.label))
        };
        let _ = write!(self.labels, "<text x=\"{left}\" y=\"{base}\">{whole}{}</text>", escaped(&label));
        if !second.is_empty() {
            let (second, base) = (fitted(&second, DETAIL_LETTERS), y + 11);
            let _ = write!(self.details, "<text x=\"{left}\" y=\"{base}\">{}</text>", escaped(&second));
        }
        if let Some(number) = number {
            let (cx, cy) = (x + BOX_WIDTH - 12, top + 11);
            let _ = write!(
                self.numbers,
                "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"8\" fill=\"#fff\"/><text x=\"{cx}\" y=\"{}\" stroke=\"none\">{number}</text>",
                cy + 4
            );
        }
    }

    /// The whole as SVG, `legend` in lines at the foot.
    fn finish(self, width: i64, height: i64, title: &str, description: &str, legend: &[String]) -> String {
        let mut svg = String::new();
        let tall = height + 16 * i64::try_from(legend.len()).unwrap_or(0);
        let _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{tall}\" viewBox=\"0 0 {width} {tall}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n<rect width=\"{width}\" height=\"{tall}\" fill=\"#fff\"/>\n",
            escaped(title),
            escaped(description)
        );
        for (path, dash) in [(self.solid, ""), (self.dashed, " stroke-dasharray=\"5 3\"")] {
            if !path.is_empty() {
                let _ = writeln!(svg, "<path d=\"{path}\" fill=\"none\" stroke=\"#555\"{dash}/>");
            }
        }
        for (dots, fill) in self.dots.into_iter().zip(["#222", "#fff"]) {
            group(&mut svg, &dots, &format!("fill=\"{fill}\" stroke=\"#222\""));
        }
        for (boxes, fill) in self.boxes.into_iter().zip(["#fff"].into_iter().chain(TINTS)) {
            group(&mut svg, &boxes, &format!("fill=\"{fill}\" stroke=\"#333\""));
        }
        let font = "font-family=\"sans-serif\"";
        group(&mut svg, &self.labels, &format!("{font} font-size=\"12\" fill=\"#111\""));
        group(&mut svg, &self.details, &format!("{font} font-size=\"10\" fill=\"#333\""));
        let numbers =
            format!("{font} font-size=\"11\" font-weight=\"bold\" text-anchor=\"middle\" stroke=\"#333\"");
        group(&mut svg, &self.numbers, &numbers);
        let mut lines = String::new();
        for (at, line) in (0i64..).zip(legend) {
            let _ = write!(lines, "<text x=\"{MARGIN}\" y=\"{}\">{}</text>", height + 16 * at, escaped(line));
        }
        group(&mut svg, &lines, &format!("{font} font-size=\"11\" fill=\"#333\""));
        svg.push_str("</svg>\n");
        svg
    }
}

fn group(svg: &mut String, inside: &str, attributes: &str) {
    if !inside.is_empty() {
        let _ = writeln!(svg, "<g {attributes}>{inside}</g>");
    }
}

/// Text that fits, cut with an ellipsis. Letters of East Asian scripts count twice.
fn fitted(text: &str, room: usize) -> String {
    let wide = |c: char| {
        if matches!(c, '\u{1100}'..='\u{115f}' | '\u{2e80}'..='\u{ffdc}' | '\u{1f300}'..) { 2 } else { 1 }
    };
    if text.chars().map(wide).sum::<usize>() <= room {
        return text.to_owned();
    }
    let mut used = 1;
    let mut cut = String::new();
    for c in text.chars() {
        used += wide(c);
        if used > room {
            break;
        }
        cut.push(c);
    }
    cut.truncate(cut.trim_end().len());
    cut.push('\u{2026}');
    cut
}

/// Text as it stands in XML; characters XML does not allow become the replacement character.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            '\0'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

/// One line of an outline; a line break within a label would end it.
fn outline_line(outline: &mut String, depth: usize, text: &str) {
    let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let _ = writeln!(outline, "{:1$}{text}", "", 2 * depth);
}
