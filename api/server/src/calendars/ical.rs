//! iCalendar (RFC 5545), as far as days and moments need it.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};

/// A calendar being written.
#[derive(Debug)]
pub struct Calendar {
    text: String,
    stamp: String,
}

/// One event.
#[derive(Debug, Clone)]
pub struct Event {
    /// The same from one reading to the next, unlike that of any other event.
    pub uid: String,
    /// Counts up when the event changes.
    pub sequence: i32,
    /// When.
    pub when: When,
    /// In one line.
    pub summary: String,
    /// Where.
    pub location: Option<String>,
    /// Whether it was called off.
    pub is_cancelled: bool,
}

/// When an event is.
#[derive(Debug, Clone, Copy)]
pub enum When {
    /// The whole of a day.
    Day(NaiveDate),
    /// A moment in UTC.
    Moment(NaiveDateTime),
}

impl Calendar {
    /// An empty calendar, written now.
    pub fn new(name: &str, now: DateTime<Utc>) -> Self {
        let mut calendar = Self { text: String::new(), stamp: now.format("%Y%m%dT%H%M%SZ").to_string() };
        for line in
            ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Storksbill//Calendar//EN", "CALSCALE:GREGORIAN"]
        {
            content_line(&mut calendar.text, line);
        }
        content_line(&mut calendar.text, &format!("X-WR-CALNAME:{}", escaped(name)));
        calendar
    }

    /// Adds an event.
    pub fn add(&mut self, event: &Event) {
        let text = &mut self.text;
        content_line(text, "BEGIN:VEVENT");
        content_line(text, &format!("UID:{}@storksbill", event.uid));
        content_line(text, &format!("DTSTAMP:{}", self.stamp));
        content_line(text, &format!("SEQUENCE:{}", event.sequence));
        match event.when {
            When::Day(day) => {
                content_line(text, &format!("DTSTART;VALUE=DATE:{}", day.format("%Y%m%d")));
                // RFC 5545, 3.6.1: without an end it is the one day, which the last day there is needs.
                if let Some(after) = day.succ_opt() {
                    content_line(text, &format!("DTEND;VALUE=DATE:{}", after.format("%Y%m%d")));
                }
            }
            When::Moment(moment) => {
                content_line(text, &format!("DTSTART:{}", moment.format("%Y%m%dT%H%M%SZ")));
            }
        }
        content_line(text, &format!("SUMMARY:{}", escaped(&event.summary)));
        if let Some(location) = &event.location {
            content_line(text, &format!("LOCATION:{}", escaped(location)));
        }
        let status = if event.is_cancelled { "CANCELLED" } else { "CONFIRMED" };
        content_line(text, &format!("STATUS:{status}"));
        content_line(text, "END:VEVENT");
    }

    /// The whole text.
    pub fn finish(mut self) -> String {
        content_line(&mut self.text, "END:VCALENDAR");
        self.text
    }
}

/// RFC 5545, 3.3.11: backslash, semicolon, comma and line ends in texts.
fn escaped(text: &str) -> String {
    let text = text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,");
    text.replace("\r\n", "\\n").replace(['\n', '\r'], "\\n")
}

/// RFC 5545, 3.1: lines end with CR and LF, and are folded before the 76th octet, never within a character.
fn content_line(text: &mut String, line: &str) {
    let mut octets = 0;
    for letter in line.chars() {
        if octets + letter.len_utf8() > 75 {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(letter);
        octets += letter.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5545 (2009), 3.1: a line of text is at most 75 octets without its break; a folded one goes on after a blank.
    #[test]
    fn long_lines_are_folded_by_octets_and_never_within_a_letter() {
        let mut text = String::new();
        content_line(&mut text, &format!("SUMMARY:{}", "Ménage ".repeat(30)));
        for line in text.split("\r\n").filter(|line| !line.is_empty()) {
            assert!(line.len() <= 75, "{} octets: {line}", line.len());
        }
        assert_eq!(
            text.replace("\r\n ", "").trim_end(),
            format!("SUMMARY:{}", "Ménage ".repeat(30)).trim_end()
        );
    }

    /// RFC 5545 (2009), 3.3.11: the description of its example, with its comma and line end.
    #[test]
    fn texts_are_escaped_as_the_rfc_shows() {
        let text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(escaped(text), "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.");
        assert_eq!(escaped("a,b;c\\d"), "a\\,b\\;c\\\\d");
    }
}
