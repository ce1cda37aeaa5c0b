//! Drawings that stand in a page: no script, no style of their own, words beside every one.

use std::fmt::Write;

use storksbill_forecast::calendar;

use super::text::Text;
use crate::season::curve::{Curve, DRAWN_DAYS};

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 200.0;
/// Room for the figures on the left and the months below.
const LEFT: f64 = 40.0;
const FOOT: f64 = 24.0;
const TOP: f64 = 10.0;
const RIGHT: f64 = 8.0;

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// Heat as it gathers: the band and mean of past years, and this year.
pub(super) fn heat(curve: &Curve, region: &str) -> String {
    let most = curve.past.last().map_or(1.0, |(_, _, most)| *most);
    let most = curve.this.iter().copied().fold(most, f64::max).max(1.0);
    let x = |day: usize| LEFT + (WIDTH - LEFT - RIGHT) * day as f64 / f64::from(DRAWN_DAYS - 1);
    let y = |heat: f64| HEIGHT - FOOT - (HEIGHT - FOOT - TOP) * heat / most;
    let points = |heats: &mut dyn Iterator<Item = (usize, f64)>| {
        heats.fold(String::new(), |mut points, (day, heat)| {
            // Writing to a string cannot fail.
            let _ = write!(points, "{:.1},{:.1} ", x(day), y(heat));
            points
        })
    };
    let lower = points(&mut curve.past.iter().map(|past| past.0).enumerate());
    let upper = points(&mut curve.past.iter().map(|past| past.2).enumerate().rev());
    let mean = points(&mut curve.past.iter().map(|past| past.1).enumerate());
    let this = points(&mut curve.this.iter().copied().enumerate());
    let mut marks = String::new();
    let step = step_for(most);
    let mut heat = 0.0;
    while heat <= most {
        let at = y(heat);
        let _ = write!(
            marks,
            "<line class=\"grid\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{heat:.0}</text>",
            WIDTH - RIGHT,
            LEFT - 4.0,
            at + 4.0
        );
        heat += step;
    }
    for day in 0..DRAWN_DAYS {
        let date = calendar::date(curve.stop_day + day);
        let month = usize::try_from(date.month).ok().and_then(|month| MONTHS.get(month - 1));
        if let (1, Some(month), Ok(day)) = (date.day, month, usize::try_from(day)) {
            let _ = write!(marks, "<text x=\"{:.1}\" y=\"{:.1}\">{month}</text>", x(day), HEIGHT - 8.0);
        }
    }
    let (now, usual) = last_of(curve);
    format!(
        "<figure>\n<svg class=\"plot\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
         aria-label=\"Heat in {region} this season against past years\">{marks}\
         <polygon class=\"band\" points=\"{lower}{upper}\"/><polyline class=\"mean\" points=\"{mean}\"/>\
         <polyline class=\"this\" points=\"{this}\"/></svg>\n<figcaption>Degree-days since {start} under \
         frost-free glass. Line: this year, {now:.0} so far; broken line: the mean of {years} past years, \
         {usual:.0} by the same day; band: the least and most of them.</figcaption>\n</figure>",
        region = Text(region),
        start = start(curve.stop_day),
        years = curve.years,
    )
}

/// This year's heat so far and the mean of past years by the same day.
fn last_of(curve: &Curve) -> (f64, f64) {
    let at = curve.this.len().saturating_sub(1);
    let now = curve.this.last().copied().unwrap_or_default();
    (now, curve.past.get(at).map_or(0.0, |past| past.1))
}

fn start(stop_day: i32) -> String {
    let date = calendar::date(stop_day);
    let month = if date.month == 9 { "September" } else { "March" };
    format!("{} {month}", date.day)
}

/// Four to eight marks on the scale.
fn step_for(most: f64) -> f64 {
    [50.0, 100.0, 250.0, 500.0, 1_000.0].into_iter().find(|step| most / step <= 6.0).unwrap_or(2_000.0)
}

/// Shares that came within the middle half and the middle nine tenths, by weeks ahead, longest first, against
/// the shares that are right.
pub(super) fn coverage(shares: &[(i32, f64, f64)]) -> String {
    if shares.is_empty() {
        return String::new();
    }
    let (left, right) = (LEFT + 10.0, WIDTH - RIGHT - 10.0);
    let count = shares.len() as f64;
    let x = |at: usize| left + (right - left) * (at as f64 + 0.5) / count;
    let y = |share: f64| HEIGHT - FOOT - (HEIGHT - FOOT - TOP) * share;
    let mut marks = String::new();
    for (class, share) in [("grid", 0.0), ("right", 0.5), ("right", 0.9), ("grid", 1.0)] {
        // Writing to a string cannot fail.
        let _ = write!(
            marks,
            "<line class=\"{class}\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{:.0}</text>",
            WIDTH - RIGHT,
            LEFT - 4.0,
            y(share) + 4.0,
            share * 100.0,
            at = y(share),
        );
    }
    for (at, (weeks, half, nine_tenths)) in shares.iter().enumerate() {
        let _ = write!(
            marks,
            "<circle class=\"half\" cx=\"{x:.1}\" cy=\"{:.1}\" r=\"5\"/><rect class=\"ninety\" x=\"{:.1}\" \
             y=\"{:.1}\" width=\"10\" height=\"10\"/><text x=\"{x:.1}\" y=\"{:.1}\" \
             text-anchor=\"middle\">{weeks} weeks</text>",
            y(*half),
            x(at) - 5.0,
            y(*nine_tenths) - 5.0,
            HEIGHT - 8.0,
            x = x(at),
        );
    }
    format!(
        "<figure>\n<svg class=\"plot\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
         aria-label=\"How many of 100 plants came within what was told\">{marks}</svg>\n<figcaption>Of 100 \
         plants, so many came within the middle half (circles; 50 is right) and the middle nine tenths \
         (squares; 90 is right) of what was told.</figcaption>\n</figure>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_has_a_few_marks() {
        for most in [20.0, 90.0, 310.0, 700.0, 1_400.0, 2_900.0, 5_500.0] {
            let marks = most / step_for(most);
            assert!((0.2..=6.0).contains(&marks), "{most}: {marks}");
        }
    }

    #[test]
    fn what_is_named_in_a_drawing_cannot_be_markup() {
        let curve =
            Curve { stop_day: 20_523, this: vec![5.0, 9.0], past: vec![(4.0, 5.0, 6.0); 174], years: 3 };
        let drawn = heat(&curve, "\"><script>");
        assert!(!drawn.contains("<script>") && drawn.contains("&quot;&gt;&lt;script&gt;"));
        assert!(
            drawn.contains("this year, 9 so far") && drawn.contains("mean of 3 past years, 5"),
            "{drawn}"
        );
        assert!(drawn.contains("since 11 March"), "{drawn}");
    }

    #[test]
    fn shares_stand_at_their_height() {
        let drawn = coverage(&[(8, 0.5, 1.0)]);
        // A half is in the middle of the plot, the whole at its top, less half a square.
        assert!(drawn.contains("cy=\"93.0\"") && drawn.contains("y=\"5.0\" width"), "{drawn}");
        assert_eq!(coverage(&[]), "");
    }
}
