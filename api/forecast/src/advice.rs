//! What a grower would do about the season's figures.
//!
//! Each piece is common practice, without a published source, as are the figures it waits for. Nothing
//! here names a chemical.

use crate::blooms::Share;

/// What is known of a region's season; what is not known raises nothing.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Figures<'a> {
    /// Days behind (+) or ahead (-) of usual.
    pub days_late: Option<f64>,
    /// Days of the last fortnight on which grey mould had wet enough flowers.
    pub damp_days: Option<usize>,
    /// Most of the fortnight was cold and damp inside.
    pub cold_damp: Option<bool>,
    /// Shares of blooms reported deformed in the last fortnight, and in the same weeks of past years.
    pub deformed: Option<(Share, Share)>,
    /// Probability of a frost after today, only in the months before the last one.
    pub frost_after: Option<f64>,
    /// Minimum and maximum of the last days outside, degrees C, without a gap, the latest last.
    pub days: &'a [(f64, f64)],
}

/// One thing to do, and the figure that raised it.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// The same whatever the words.
    pub code: &'static str,
    pub sentence: String,
    /// Name of the figure, with its unit.
    pub figure: &'static str,
    pub value: f64,
}

/// A season so many days off the usual is worth a word.
pub const OFF_DAYS: f64 = 5.0;
/// So many damp days of fourteen.
pub const DAMP_DAYS: usize = 3;
/// A frost as likely as this keeps plants under glass.
pub const FROST_CHANCE: f64 = 0.1;
/// A day so much warmer than those about it stands alone, degrees C.
pub const WARM_DAY_C: f64 = 4.0;
/// A day so much cooler than the week before it is cool, degrees C.
pub const COOL_DAY_C: f64 = 3.0;

const WEEK: usize = 7;

/// What the figures raise, in the order of the season.
pub fn advice(figures: &Figures<'_>) -> Vec<Advice> {
    [
        season(figures),
        frost(figures),
        damping_off(figures),
        cold_damp(figures),
        deformed(figures),
        warm_day(figures.days),
        cool_day(figures.days),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn season(figures: &Figures<'_>) -> Option<Advice> {
    let late = figures.days_late.filter(|late| late.abs() >= OFF_DAYS)?;
    let days = late.abs().round();
    let (code, sentence) = if late > 0.0 {
        (
            "late-season",
            format!(
                "The season is about {days:.0} days behind: leave the last stop no later than {days:.0} days \
                 before the day your usual weeks give."
            ),
        )
    } else {
        (
            "early-season",
            format!(
                "The season is about {days:.0} days ahead: a plant stopped by the usual weeks may be past its \
                 best at the show."
            ),
        )
    };
    Some(Advice { code, sentence, figure: "days behind (+) or ahead (-) of usual", value: late })
}

fn frost(figures: &Figures<'_>) -> Option<Advice> {
    let chance = figures.frost_after.filter(|chance| *chance >= FROST_CHANCE)?;
    let cold_spring = figures.days_late.is_some_and(|late| late >= OFF_DAYS);
    let until = if cold_spring { "late May, the spring being cold" } else { "the frosts are over" };
    Some(Advice {
        code: "frost-to-come",
        sentence: format!("Big baskets and pots wait under glass until {until}."),
        figure: "chance of a frost after today",
        value: chance,
    })
}

fn damping_off(figures: &Figures<'_>) -> Option<Advice> {
    let days = figures.damp_days.filter(|days| *days >= DAMP_DAYS)?;
    Some(Advice {
        code: "damping-off",
        sentence: "Early blooms on plants that were not stopped damp off when it is too damp to ventilate, \
                   worst on large-flowered regals: pick over spent florets and open up on the first dry day."
            .to_owned(),
        figure: "damp days of the last fourteen",
        value: days as f64,
    })
}

fn cold_damp(figures: &Figures<'_>) -> Option<Advice> {
    let cold = figures.cold_damp.filter(|cold| *cold)?;
    Some(Advice {
        code: "cold-damp",
        sentence:
            "Cold and damp for most of a fortnight: keep leaves dry and water only what is light in the \
                   hand."
                .to_owned(),
        figure: "cold damp fortnight (1 yes)",
        value: f64::from(u8::from(cold)),
    })
}

fn deformed(figures: &Figures<'_>) -> Option<Advice> {
    let (now, _) = figures.deformed.filter(|(now, usual)| now.low > usual.share)?;
    Some(Advice {
        code: "deformed-blooms",
        sentence: "Early doubles open deformed more often than usual: they come right as it warms."
            .to_owned(),
        figure: "share of plants in flower with deformed blooms",
        value: now.share,
    })
}

/// The day before yesterday, yesterday and today, the middle one standing out.
fn warm_day(days: &[(f64, f64)]) -> Option<Advice> {
    let [.., before, warm, after] = days else { return None };
    let above = warm.1 - before.1.max(after.1);
    (above >= WARM_DAY_C).then(|| Advice {
        code: "one-warm-day",
        sentence: "One warm day between cool ones is no reason to water or feed more.".to_owned(),
        figure: "degrees C that its maximum stood above the days about it",
        value: above,
    })
}

fn cool_day(days: &[(f64, f64)]) -> Option<Advice> {
    let (latest, before) = days.split_last()?;
    let week = before.get(before.len().checked_sub(WEEK)?..)?;
    let middle = |day: &(f64, f64)| f64::midpoint(day.0, day.1);
    let usual = week.iter().map(middle).sum::<f64>() / WEEK as f64;
    let below = usual - middle(latest);
    (below >= COOL_DAY_C).then(|| Advice {
        code: "cool-day",
        sentence: "Hold back on water after a cool day; what looks dry today may last until tomorrow."
            .to_owned(),
        figure: "degrees C that its mean stood below the week before",
        value: below,
    })
}
