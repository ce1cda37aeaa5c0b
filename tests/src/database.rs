//! A database that nobody else uses.

use std::path::PathBuf;
use std::sync::OnceLock;

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use storksbill_db::Conn;
use tempfile::TempDir;

/// Whether the tests run on `PostgreSQL`.
pub fn on_postgres() -> Option<String> {
    std::env::var("TEST_DATABASE_URL").ok().filter(|url| !url.is_empty())
}

/// A fresh database; gone with the value where it is a file.
#[derive(Debug)]
pub struct TestDatabase {
    /// What [`storksbill_db::Db::open`] takes.
    pub url: String,
    _folder: Option<TempDir>,
}

impl TestDatabase {
    /// Migrated, without a row.
    pub fn fresh() -> Self {
        if let Some(url) = on_postgres() {
            let database = Self::schema_of(&url);
            storksbill_db::migrate(&mut database.connect()).unwrap();
            database
        } else {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join("society.sqlite3");
            // Copying a migrated file takes a tenth of migrating.
            std::fs::copy(template(), &file).unwrap();
            Self { url: file.display().to_string(), _folder: Some(folder) }
        }
    }

    /// Not migrated, without a table.
    pub fn bare() -> Self {
        if let Some(url) = on_postgres() {
            Self::schema_of(&url)
        } else {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join("bare.sqlite3");
            Self { url: file.display().to_string(), _folder: Some(folder) }
        }
    }

    fn schema_of(url: &str) -> Self {
        let name = format!("t_{}", uuid::Uuid::now_v7().simple());
        let mut conn = PgConnection::establish(url).expect("TEST_DATABASE_URL answers");
        conn.batch_execute(&format!("create schema {name}")).unwrap();
        let joint = if url.contains('?') { '&' } else { '?' };
        Self { url: format!("{url}{joint}options=-csearch_path%3D{name}"), _folder: None }
    }

    /// A connection past the doors.
    pub fn connect(&self) -> Conn {
        if storksbill_db::is_postgres(&self.url) {
            Conn::Postgres(PgConnection::establish(&self.url).unwrap())
        } else {
            Conn::Sqlite(SqliteConnection::establish(&self.url).unwrap())
        }
    }
}

fn template() -> &'static PathBuf {
    static TEMPLATE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    &TEMPLATE
        .get_or_init(|| {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join("template.sqlite3");
            let mut conn = Conn::Sqlite(SqliteConnection::establish(&file.display().to_string()).unwrap());
            storksbill_db::migrate(&mut conn).unwrap();
            (folder, file)
        })
        .1
}
