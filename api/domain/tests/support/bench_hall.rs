//! A hall of exhibits, judged: exhibitors are letters, A is number 1.
#![allow(dead_code, clippy::unwrap_used, reason = "each test uses a part of it, and may fail")]

use std::sync::LazyLock;

use storksbill_domain::shows::{
    ClassJudgment, Commendation, EntryNumber, EntryNumbers, ExhibitorNumber, JudgedExhibit, PastWinner,
    PointsScheme, ShowDay, ShowExhibitor, ShowResults, ShowSchedule, ShownExhibit, TrophyChoice, Verdict,
    show_results,
};

use super::{class, day, id, plants, rules, schedule};

static NUMBERS: LazyLock<EntryNumbers> = LazyLock::new(|| EntryNumbers::new(b"the harbour at Merrow", 4000));

pub struct Hall {
    pub schedule: ShowSchedule,
    pub exhibits: Vec<ShownExhibit>,
    pub exhibitors: Vec<ShowExhibitor>,
    pub judgments: Vec<ClassJudgment>,
    pub choices: Vec<TrophyChoice>,
    pub past_winners: Vec<PastWinner>,
}

pub fn number(letter: char) -> ExhibitorNumber {
    ExhibitorNumber(u32::from(letter) - u32::from('A') + 1)
}

/// The letter of an exhibitor.
pub fn letter(number: ExhibitorNumber) -> char {
    char::from_u32(u32::from('A') + number.0 - 1).unwrap()
}

impl Hall {
    /// An empty hall whose classes are scored by one scheme.
    pub fn scored(scheme: PointsScheme) -> Self {
        let mut schedule = schedule(vec![]);
        schedule.schemes = vec![scheme];
        Self {
            schedule,
            exhibits: vec![],
            exhibitors: vec![],
            judgments: vec![],
            choices: vec![],
            past_winners: vec![],
        }
    }

    /// Judges a class: letters by place separated by blanks, equals written together, `-` a withheld place, `hc:D`
    /// highly commended, `+EF` staged without a place. `A B C hc:D +EF`.
    pub fn judge(&mut self, label: &str, placed: &str) -> &mut Self {
        let class_id = id(self.schedule.classes.len() as u128 + 1);
        let mut demands = rules(vec![plants(1)]);
        demands.points = self.schedule.schemes.first().map(|scheme| scheme.key.clone());
        let mut entered = class(1, label, demands);
        entered.id = class_id;
        self.schedule.classes.push(entered);
        let (mut judged, mut equal, mut withheld) = (vec![], vec![], vec![]);
        let mut place = 1;
        for word in placed.split_whitespace() {
            if word == "-" {
                withheld.push(place);
                place += 1;
            } else if let Some(commended) = word.strip_prefix("hc:") {
                for one in commended.chars() {
                    let entry = self.stage(class_id, one);
                    judged.push(JudgedExhibit { entry, verdict: Verdict::Commended(Commendation::Highly) });
                }
            } else if let Some(others) = word.strip_prefix('+') {
                others.chars().for_each(|one| {
                    self.stage(class_id, one);
                });
            } else {
                for one in word.chars() {
                    let entry = self.stage(class_id, one);
                    judged.push(JudgedExhibit { entry, verdict: Verdict::Placed(place) });
                }
                if word.len() > 1 {
                    equal.push(place);
                }
                let skipped =
                    self.schedule.results.next_place == storksbill_domain::shows::NextPlace::Skipped;
                place += if skipped { u32::try_from(word.len()).unwrap() } else { 1 };
            }
        }
        self.judgments.push(ClassJudgment { class: class_id, judged, equal, withheld });
        self
    }

    fn stage(&mut self, class: storksbill_domain::ids::ClassId, letter: char) -> EntryNumber {
        let entry = NUMBERS.number(self.exhibits.len()).unwrap();
        self.exhibits.push(ShownExhibit { entry, class, exhibitor: number(letter), staged: true });
        entry
    }

    /// The entry of an exhibitor in a class.
    pub fn entry(&self, label: &str, letter: char) -> EntryNumber {
        let class = self.schedule.classes.iter().find(|class| class.label.to_string() == label).unwrap();
        let of = |exhibit: &&ShownExhibit| exhibit.class == class.id && exhibit.exhibitor == number(letter);
        self.exhibits.iter().find(of).unwrap().entry
    }

    pub fn results(&self) -> ShowResults {
        show_results(ShowDay {
            schedule: &self.schedule,
            season_start: day("2027-01-01"),
            exhibits: &self.exhibits,
            exhibitors: &self.exhibitors,
            judgments: &self.judgments,
            choices: &self.choices,
            past_winners: &self.past_winners,
        })
    }

    /// Points of each exhibitor: `A 9, B 10`.
    pub fn points(&self) -> String {
        let results = self.results();
        assert_eq!(results.findings, [], "the hall is judged without slips");
        let told =
            results.exhibitors.iter().map(|tally| format!("{} {}", letter(tally.exhibitor), tally.points));
        told.collect::<Vec<_>>().join(", ")
    }
}

/// Points for places, and for a commendation.
pub fn scheme(places: &[u32], highly_commended: u32) -> PointsScheme {
    let commended =
        storksbill_domain::shows::CommendationPoints { code: Commendation::Highly, points: highly_commended };
    PointsScheme {
        key: "points".to_owned(),
        places: places.to_vec(),
        commended: if highly_commended > 0 { vec![commended] } else { vec![] },
        ..PointsScheme::default()
    }
}
