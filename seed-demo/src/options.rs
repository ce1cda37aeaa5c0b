//! The command line.

use chrono::NaiveDate;
use clap::Parser;

use crate::demo::Scale;
use crate::people;

/// Serves the plant society of Merrow, an invented island, with its plants, diaries, weather and shows: the
/// first start fills a database file through the server's own API, later starts find it filled.
#[derive(Debug, Clone, Parser)]
#[command(name = "seed-demo", version, max_term_width = 100)]
pub struct Options {
    /// The file of the embedded database
    #[arg(long, default_value = "./storksbill-demo.sqlite3")]
    pub database: String,
    /// Address and port to listen on
    #[arg(long, default_value = "127.0.0.1:8080")]
    pub listen: String,
    /// Start over: throw the demonstration in the file away and fill it anew
    #[arg(long)]
    pub fresh: bool,
    /// Fill, then stop
    #[arg(long)]
    pub fill_only: bool,
    /// Members of the society; plants, cultivars and swaps go with them
    #[arg(long, default_value_t = 150, value_parser = whole(people::FEWEST, people::MOST))]
    pub members: usize,
    /// Past seasons with weather and diaries
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(i32).range(2..=20))]
    pub years: i32,
    /// The same seed gives the same society
    #[arg(long, default_value_t = 11)]
    pub seed: u64,
    /// The day it is when the server starts; give a day of your own again at later starts
    #[arg(long, default_value = "2026-05-10", value_parser = day)]
    pub today: NaiveDate,
}

impl Options {
    /// What is to be made.
    pub fn scale(&self) -> Scale {
        let since = self.today - NaiveDate::default();
        Scale {
            members: self.members,
            years: self.years,
            seed: self.seed,
            today: i32::try_from(since.num_days()).unwrap_or(0),
        }
    }
}

/// A whole number in a range; clap has none for `usize`.
fn whole(least: usize, most: usize) -> impl Fn(&str) -> Result<usize, String> + Clone {
    move |text| match text.parse() {
        Ok(number) if (least..=most).contains(&number) => Ok(number),
        _ => Err(format!("give a whole number from {least} to {most}")),
    }
}

/// The weather is drawn from 2000 on, and twenty seasons may be wanted before.
fn day(text: &str) -> Result<NaiveDate, String> {
    let range = NaiveDate::from_ymd_opt(2025, 1, 1)..NaiveDate::from_ymd_opt(2100, 1, 1);
    match text.parse::<NaiveDate>() {
        Ok(day) if range.contains(&Some(day)) => Ok(day),
        _ => Err("give a day from 2025-01-01 to 2099-12-31".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_sound() {
        Options::command().debug_assert();
        let usual = Options::try_parse_from(["seed-demo"]).unwrap();
        assert_eq!(usual.scale().today, 20_583);
        assert_eq!(usual.scale().seasons(), (2021, 2026));
        for wrong in
            [["--members", "7"], ["--years", "1"], ["--today", "2024-12-31"], ["--today", "10.5.2026"]]
        {
            assert!(Options::try_parse_from(["seed-demo", wrong[0], wrong[1]]).is_err(), "{wrong:?}");
        }
    }
}
