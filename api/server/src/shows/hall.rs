//! What stands in the hall: entries with their exhibitors, class by class in the order of print.

use std::collections::BTreeMap;

use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry, Exhibitor};
use storksbill_db::rows::shows::{Show, Version};
use storksbill_domain::ids::{ClassId, ExhibitorId};
use storksbill_domain::shows::{PrintedNames, ScheduleClass, ShowSchedule};

use super::documents;
use crate::http::problem::Problem;

/// Entries that stand, and their exhibitors, by class.
pub(super) struct Hall {
    pub(super) version: Version,
    schedule: ShowSchedule,
    pub(super) names: PrintedNames,
    by_class: BTreeMap<ClassId, Vec<Entry>>,
    exhibitors: BTreeMap<ExhibitorId, Exhibitor>,
}

impl Hall {
    pub(super) fn load(conn: &mut Conn, show: &Show) -> Result<Self, Problem> {
        let (version, mut schedule) = documents::in_force(conn, show)?;
        schedule.classes.sort_by(ScheduleClass::printed_order);
        let mut by_class: BTreeMap<ClassId, Vec<Entry>> = BTreeMap::new();
        for entry in entries::standing(conn, show.id)? {
            by_class.entry(entry.class_id).or_default().push(entry);
        }
        let exhibitors = entries::exhibitors(conn, show.id)?.into_iter().map(|one| (one.id, one)).collect();
        let names = documents::printed_names(conn, &schedule)?;
        Ok(Self { version, schedule, names, by_class, exhibitors })
    }

    /// Everybody who shows.
    pub(super) fn exhibitors(&self) -> impl Iterator<Item = &Exhibitor> + Clone {
        self.exhibitors.values()
    }

    pub(super) fn classes(&self) -> impl Iterator<Item = &ScheduleClass> {
        self.schedule.classes.iter()
    }

    /// The entries of a class by number.
    pub(super) fn of(&self, class: ClassId) -> impl Iterator<Item = (&Entry, &Exhibitor)> {
        let entries = self.by_class.get(&class).map(Vec::as_slice).unwrap_or_default();
        entries.iter().filter_map(|entry| Some((entry, self.exhibitors.get(&entry.exhibitor_id)?)))
    }

    pub(super) fn by_class(&self) -> impl Iterator<Item = (&ScheduleClass, &Entry, &Exhibitor)> {
        self.classes()
            .flat_map(|class| self.of(class.id).map(move |(entry, exhibitor)| (class, entry, exhibitor)))
    }
}
