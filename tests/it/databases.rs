//! Both databases behind the same two doors: the same schema, no lost update, nothing half done.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::mpsc;
use std::time::Duration;

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::{Integer, Text};
use storksbill_db::rows::merging::REFERENCES;
use storksbill_db::rows::settings;
use storksbill_db::{Conn, Db, DbError};
use storksbill_tests::{TestDatabase, on_postgres};

// ---- what a database says of itself ----

/// (name, type, may be null), in order.
pub(crate) type Columns = Vec<(String, String, bool)>;

/// A table as either database describes it.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Table {
    columns: Columns,
    primary_key: Vec<String>,
    /// Name -> columns.
    unique: BTreeMap<String, String>,
    checks: BTreeSet<String>,
    /// (column, table, its column).
    foreign: BTreeSet<(String, String, String)>,
    /// Name -> (unique, columns, whether some rows are left out).
    indexes: BTreeMap<String, (bool, String, bool)>,
}

pub(crate) type Schema = BTreeMap<String, Table>;

const HISTORY: &str = "__diesel_schema_migrations";

#[derive(QueryableByName)]
struct Words {
    #[diesel(sql_type = Text)]
    a: String,
    #[diesel(sql_type = Text)]
    b: String,
    #[diesel(sql_type = Text)]
    c: String,
    #[diesel(sql_type = Integer)]
    n: i32,
}

fn ask(conn: &mut Conn, sql: &str) -> Vec<Words> {
    match conn {
        Conn::Sqlite(sqlite) => diesel::sql_query(sql).load(sqlite),
        Conn::Postgres(pg) => diesel::sql_query(sql).load(pg),
    }
    .unwrap_or_else(|error| panic!("{error}: {sql}"))
}

pub(crate) fn schema_of(conn: &mut Conn) -> Schema {
    let mut schema = match conn {
        Conn::Sqlite(_) => schema_of_sqlite(conn),
        Conn::Postgres(_) => schema_of_postgres(conn),
    };
    schema.remove(HISTORY);
    schema
}

fn schema_of_sqlite(conn: &mut Conn) -> Schema {
    let mut schema = Schema::new();
    let tables = "select name as a, sql as b, '' as c, 0 as n from sqlite_master where type = 'table'";
    for Words { a: name, b: ddl, .. } in ask(conn, tables) {
        let mut table = Table::default();
        let columns = format!(
            "select name as a, type as b, case when \"notnull\" then '' else 'null' end as c, pk as n \
             from pragma_table_info('{name}') order by cid"
        );
        let mut key = BTreeMap::new();
        for Words { a: column, b: kind, c: null, n: pk } in ask(conn, &columns) {
            if pk > 0 {
                key.insert(pk, column.clone());
            }
            table.columns.push((column, kind.to_lowercase(), !null.is_empty()));
        }
        table.primary_key = key.into_values().collect();
        let foreign = format!(
            "select \"from\" as a, \"table\" as b, \"to\" as c, 0 as n from pragma_foreign_key_list('{name}')"
        );
        table.foreign = ask(conn, &foreign).into_iter().map(|w| (w.a, w.b, w.c)).collect();
        // Names of rules stand in the text alone.
        let flat = ddl.split_whitespace().collect::<Vec<_>>().join(" ");
        for rule in flat.split("constraint ").skip(1) {
            let (rule_name, what) = rule.split_once(' ').unwrap();
            if what.starts_with("check") {
                table.checks.insert(rule_name.to_owned());
            } else if let Some(columns) = what.strip_prefix("unique (") {
                let columns = columns.split(')').next().unwrap();
                table.unique.insert(rule_name.to_owned(), columns.to_owned());
            } else {
                assert!(what.starts_with("primary key"), "an unknown rule: {rule}");
            }
        }
        assert_eq!(flat.matches("check (").count(), table.checks.len(), "{name}: a check without a name");
        let indexes = format!(
            "select name as a, origin as b, case when \"unique\" then 'unique' else '' end as c, partial as n \
             from pragma_index_list('{name}')"
        );
        let mut ruled = BTreeSet::new();
        for Words { a: index, b: origin, c: unique, n: partial } in ask(conn, &indexes) {
            let columns =
                format!("select name as a, '' as b, '' as c, 0 as n from pragma_index_info('{index}')");
            let columns = ask(conn, &columns).into_iter().map(|w| w.a).collect::<Vec<_>>().join(", ");
            match origin.as_str() {
                "c" => drop(table.indexes.insert(index, (!unique.is_empty(), columns, partial != 0))),
                "u" => drop(ruled.insert(columns)),
                _ => {}
            }
        }
        assert_eq!(ruled, table.unique.values().cloned().collect(), "{name}: a unique rule without a name");
        schema.insert(name, table);
    }
    schema
}

fn schema_of_postgres(conn: &mut Conn) -> Schema {
    let mut schema = Schema::new();
    let columns = "select table_name::text as a, column_name::text as b, \
        data_type || '|' || is_nullable || '|' || coalesce(collation_name, '') as c, ordinal_position::int4 as n \
        from information_schema.columns where table_schema = current_schema() order by table_name, ordinal_position";
    for Words { a: table, b: column, c: kind, .. } in ask(conn, columns) {
        let [kind, null, collation] = kind.split('|').collect::<Vec<_>>()[..] else { panic!("{kind}") };
        // Texts sort by their bytes, as SQLite sorts them.
        assert!(kind != "text" || collation == "C", "{table}.{column} has the collation {collation:?}");
        let kind = match kind {
            "double precision" => "double",
            "timestamp without time zone" => "timestamp",
            other => other,
        };
        let entry = schema.entry(table).or_default();
        entry.columns.push((column, kind.to_owned(), null == "YES"));
    }
    let rules = "select r.relname::text as a, c.conname::text as b, c.contype::text || '|' || \
        coalesce((select string_agg(a.attname, ', ' order by k.n) from unnest(c.conkey) with ordinality k(att, n) \
            join pg_attribute a on a.attrelid = c.conrelid and a.attnum = k.att), '') || '|' || \
        coalesce(f.relname::text, '') || '|' || \
        coalesce((select string_agg(a.attname, ', ' order by k.n) from unnest(c.confkey) with ordinality k(att, n) \
            join pg_attribute a on a.attrelid = c.confrelid and a.attnum = k.att), '') as c, 0 as n \
        from pg_constraint c join pg_class r on r.oid = c.conrelid left join pg_class f on f.oid = c.confrelid \
        join pg_namespace s on s.oid = r.relnamespace where s.nspname = current_schema()";
    for Words { a: table, b: name, c: what, .. } in ask(conn, rules) {
        let [kind, columns, other, others] = what.split('|').collect::<Vec<_>>()[..] else {
            panic!("{what}")
        };
        let table = schema.entry(table).or_default();
        match kind {
            "p" => table.primary_key = columns.split(", ").map(str::to_owned).collect(),
            "u" => drop(table.unique.insert(name, columns.to_owned())),
            "c" => drop(table.checks.insert(name)),
            "f" => drop(table.foreign.insert((columns.to_owned(), other.to_owned(), others.to_owned()))),
            _ => panic!("an unknown rule {name}"),
        }
    }
    let indexes = "select t.relname::text as a, i.relname::text as b, \
        (case when x.indisunique then 'unique' else '' end) || '|' || \
        (select string_agg(a.attname, ', ' order by k.n) from unnest(x.indkey::int2[]) with ordinality k(att, n) \
            join pg_attribute a on a.attrelid = x.indrelid and a.attnum = k.att) as c, \
        (case when x.indpred is null then 0 else 1 end) as n \
        from pg_index x join pg_class i on i.oid = x.indexrelid join pg_class t on t.oid = x.indrelid \
        join pg_namespace s on s.oid = t.relnamespace where s.nspname = current_schema() \
        and not exists (select 1 from pg_constraint c where c.conindid = x.indexrelid and c.contype in ('p', 'u'))";
    for Words { a: table, b: index, c: what, n: partial } in ask(conn, indexes) {
        let (unique, columns) = what.split_once('|').unwrap();
        let entry = (!unique.is_empty(), columns.to_owned(), partial != 0);
        schema.entry(table).or_default().indexes.insert(index, entry);
    }
    schema
}

fn migrated_sqlite() -> (tempfile::TempDir, Conn) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("schema.sqlite3");
    let mut conn = Conn::Sqlite(SqliteConnection::establish(file.to_str().unwrap()).unwrap());
    storksbill_db::migrate(&mut conn).unwrap();
    (folder, conn)
}

/// The tables as the queries see them: `schema.rs`, read as text.
fn schema_in_code() -> BTreeMap<String, (Vec<String>, Columns)> {
    let text = include_str!("../../db/src/schema.rs");
    let mut tables = BTreeMap::new();
    for block in text.split("diesel::table! {").skip(1) {
        let block = block.split("\n}").next().unwrap();
        let (head, body) = block.split_once(" {\n").unwrap();
        let (name, key) = head.trim().split_once(" (").unwrap();
        let key = key.trim_end_matches(')').split(", ").map(str::to_owned).collect();
        let columns = body.lines().filter_map(|line| line.trim().trim_end_matches(',').split_once(" -> "));
        let columns = columns.map(|(column, kind)| {
            let plain = kind.strip_prefix("Nullable<").map(|kind| kind.trim_end_matches('>'));
            let kind = match plain.unwrap_or(kind) {
                "Bool" => "boolean".to_owned(),
                other => other.to_lowercase(),
            };
            (column.to_owned(), kind, plain.is_some())
        });
        tables.insert(name.to_owned(), (key, columns.collect()));
    }
    tables
}

#[test]
fn the_migrated_tables_are_those_the_queries_are_written_for() {
    let mut found = vec![schema_of(&mut migrated_sqlite().1)];
    if on_postgres().is_some() {
        found.push(schema_of(&mut TestDatabase::fresh().connect()));
    }
    let code = schema_in_code();
    assert!(code.len() > 20, "schema.rs was not understood");
    for schema in found {
        assert_eq!(schema.keys().collect::<Vec<_>>(), code.keys().collect::<Vec<_>>());
        for (name, table) in schema {
            let (key, columns) = &code[&name];
            assert_eq!((&table.primary_key, &table.columns), (key, columns), "{name}");
        }
    }
}

#[test]
fn both_databases_are_migrated_to_the_same_schema() {
    let sqlite = schema_of(&mut migrated_sqlite().1);
    let rules: usize = sqlite.values().map(|t| t.checks.len() + t.unique.len() + t.foreign.len()).sum();
    assert!(rules > 80, "only {rules} rules were found");
    if on_postgres().is_none() {
        return;
    }
    let postgres = schema_of(&mut TestDatabase::fresh().connect());
    assert_eq!(sqlite.keys().collect::<Vec<_>>(), postgres.keys().collect::<Vec<_>>());
    for (name, table) in sqlite {
        assert_eq!(table, postgres[&name], "{name}");
    }
}

/// A table that comes to name cultivars has to say what a merge makes of it.
#[test]
fn a_merge_knows_of_every_column_that_names_a_cultivar() {
    let schema = schema_of(&mut migrated_sqlite().1);
    let found: BTreeSet<(String, String)> = schema
        .iter()
        .flat_map(|(name, table)| table.foreign.iter().map(move |(column, other, _)| (name, column, other)))
        .filter(|(.., other)| *other == "cultivars")
        .map(|(name, column, _)| (name.clone(), column.clone()))
        .collect();
    let known = REFERENCES.iter().map(|(table, column, _)| ((*table).to_owned(), (*column).to_owned()));
    assert_eq!(found, known.collect());
}

/// What the two databases say of a check's expression cannot be compared; the texts of the migrations can.
#[test]
fn the_migrations_of_both_databases_differ_only_in_spelling() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    let text = |database: &str, name: &str, half: &str| {
        let file = folder.join(database).join(name).join(half);
        std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()))
    };
    let mut compared = 0;
    for entry in std::fs::read_dir(folder.join("sqlite")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        for half in ["up.sql", "down.sql"] {
            let sqlite = in_both(&text("sqlite", &name, half)).replace(" without rowid;", ";");
            let postgres = in_both(&text("postgres", &name, half))
                .replace(" collate \"C\"", "")
                .replace("double precision", "double");
            assert_eq!(sqlite, postgres, "{name}/{half}");
            compared += 1;
        }
    }
    assert_eq!(compared, 2 * storksbill_db::known(false).len());
}

/// A migration without what one database alone needs to lay a table anew under what points at it.
fn in_both(text: &str) -> String {
    let mut alone = false;
    let mut kept = String::new();
    for line in text.lines() {
        alone |= line.starts_with("-- In this database alone");
        if !alone {
            kept.push_str(line);
            kept.push('\n');
        }
        alone &= line != "-- In both again.";
    }
    assert!(!alone, "it does not say where it is for both again");
    kept
}

#[test]
fn migrations_go_up_down_and_up_again() {
    let database = TestDatabase::bare();
    let mut conn = database.connect();
    let known = storksbill_db::known(storksbill_db::is_postgres(&database.url));
    assert_eq!(storksbill_db::applied(&mut conn).unwrap(), Vec::<String>::new());
    assert_eq!(storksbill_db::migrate(&mut conn).unwrap(), known);
    let first = schema_of(&mut conn);
    assert_eq!(storksbill_db::revert_all(&mut conn).unwrap(), known.len());
    assert_eq!(schema_of(&mut conn), Schema::new());
    assert_eq!(storksbill_db::migrate(&mut conn).unwrap(), known);
    assert_eq!(schema_of(&mut conn), first);
    assert_eq!(storksbill_db::applied(&mut conn).unwrap(), known);
    assert_eq!(storksbill_db::migrate(&mut conn).unwrap(), Vec::<String>::new());
}

/// The table of diary records is laid anew on the way to and from the word for a first bud.
#[test]
fn diary_records_outlive_the_change_of_their_words() {
    let database = TestDatabase::fresh();
    let mut conn = database.connect();
    if let Conn::Sqlite(sqlite) = &mut conn {
        sqlite.batch_execute("pragma foreign_keys = on").unwrap();
    }
    let at = "'2026-05-10 12:00:00'";
    let record = |id: &str, kind: &str, note: &str| {
        format!(
            "insert into diary_entries (id, plant_id, day, kind, how_many, pot_um, note, version, created_at) \
             values ('{id}', 'p', '2026-05-0{id}', '{kind}', {id}, null, {note}, 3, {at});"
        )
    };
    let given = format!(
        "insert into regions (id, name, name_key, latitude, longitude, elevation_m, version, created_at) \
             values ('r', 'Vale', 'vale', 53, -8, 60, 1, {at}); \
         insert into members (id, email, email_key, name, name_key, standing, version, created_at) \
             values ('m', 'a@example.org', 'a@example.org', 'Aune', 'aune', 'active', 1, {at}); \
         insert into cultivars (id, name, name_key, plant_group, status, protected, visibility, origin, \
             chromosomes_about, version, created_at) \
             values ('c', 'Tern', 'tern', 'zonal', 'named', false, 'society', 'unknown', false, 1, {at}); \
         insert into plants (id, owner_id, cultivar_id, region_id, how_many, environment, form, visibility, \
             version, created_at) values ('p', 'm', 'c', 'r', 9, 'outdoors', 'bush', 'society', 1, {at}); {} {} {}",
        record("1", "stopping", "'last one'"),
        record("2", "bud_seen", "null"),
        record("3", "bud_seen", "'on the leader'"),
    );
    conn.batch_execute(&given).unwrap();
    let kept = |conn: &mut Conn| {
        let all = "select cast(day as text) as a, kind as b, coalesce(note, '-') as c, how_many as n \
                   from diary_entries order by day";
        ask(conn, all).into_iter().map(|w| format!("{} {} {} {}", w.a, w.b, w.n, w.c)).collect::<Vec<_>>()
    };
    let now =
        ["2026-05-01 stopping 1 last one", "2026-05-02 bud_seen 2 -", "2026-05-03 bud_seen 3 on the leader"];
    assert_eq!(kept(&mut conn), now);
    while storksbill_db::applied(&mut conn).unwrap().last().is_some_and(|last| last.as_str() >= "0006") {
        storksbill_db::revert_last(&mut conn).unwrap();
    }
    let before = [
        "2026-05-01 stopping 1 last one",
        "2026-05-02 note 2 First bud seen.",
        "2026-05-03 note 3 on the leader",
    ];
    assert_eq!(kept(&mut conn), before);
    assert!(conn.batch_execute(&record("4", "bud_seen", "null")).is_err());
    storksbill_db::migrate(&mut conn).unwrap();
    assert_eq!(kept(&mut conn), before);
    conn.batch_execute(&record("4", "bud_seen", "null")).unwrap();
    assert!(conn.batch_execute(&record("5", "budding", "null")).is_err());
}

/// Notices are laid anew to tell of crosses, and again of names before the registrar: the others outlive it both
/// ways.
#[test]
fn notices_outlive_the_coming_and_going_of_crosses_and_registrations() {
    let database = TestDatabase::fresh();
    let mut conn = database.connect();
    let at = "'2026-05-10 12:00:00'";
    let notice = |id: &str, kind: &str, subject: &str| {
        format!(
            "insert into notices (id, member_id, kind, due_on, words, subject_kind, subject_id, created_at) \
             values ('{id}', 'm', '{kind}', '2026-06-01', 'Look', '{subject}', 's', {at});"
        )
    };
    let given = format!(
        "insert into members (id, email, email_key, name, name_key, standing, version, created_at) \
             values ('m', 'a@example.org', 'a@example.org', 'Aune', 'aune', 'active', 1, {at}); {} {} {}",
        notice("1", "quarantine_over", "plant"),
        notice("2", "harvest_due", "cross"),
        notice("4", "name_refused", "registration"),
    );
    conn.batch_execute(&given).unwrap();
    let kept = |conn: &mut Conn| {
        let all = "select id as a, kind as b, words as c, 0 as n from notices order by id";
        ask(conn, all).into_iter().map(|w| format!("{} {} {}", w.a, w.b, w.c)).collect::<Vec<_>>()
    };
    let back_before = |conn: &mut Conn, migration: &str| {
        while storksbill_db::applied(conn).unwrap().last().is_some_and(|last| last.as_str() >= migration) {
            storksbill_db::revert_last(conn).unwrap();
        }
    };
    assert_eq!(kept(&mut conn), ["1 quarantine_over Look", "2 harvest_due Look", "4 name_refused Look"]);
    back_before(&mut conn, "0011");
    assert_eq!(kept(&mut conn), ["1 quarantine_over Look", "2 harvest_due Look"]);
    assert!(conn.batch_execute(&notice("4", "name_refused", "registration")).is_err());
    back_before(&mut conn, "0009");
    assert_eq!(kept(&mut conn), ["1 quarantine_over Look"]);
    assert!(conn.batch_execute(&notice("3", "harvest_due", "cross")).is_err());
    storksbill_db::migrate(&mut conn).unwrap();
    assert_eq!(kept(&mut conn), ["1 quarantine_over Look"]);
    conn.batch_execute(&notice("3", "sowing_due", "cross")).unwrap();
}

/// A want loses its one cultivar on the way up and gets one again on the way down, with the hand-overs that
/// point at it in their place.
#[test]
fn wants_and_hand_overs_outlive_the_change_of_their_form() {
    let database = TestDatabase::fresh();
    let mut conn = database.connect();
    if let Conn::Sqlite(sqlite) = &mut conn {
        sqlite.batch_execute("pragma foreign_keys = on").unwrap();
    }
    let at = "'2026-05-10 12:00:00'";
    let want = |id: &str, form: &str, cultivar: &str, group: &str| {
        format!(
            "insert into swap_wants (id, member_id, want_rank, promised, listing, version, created_at, form, \
             cultivar_id, plant_group) values ('{id}', 'n', 1, false, 'open', 1, {at}, '{form}', {cultivar}, {group});"
        )
    };
    let given = format!(
        "insert into members (id, email, email_key, name, name_key, standing, version, created_at) \
             values ('m', 'a@example.org', 'a@example.org', 'Aune', 'aune', 'active', 1, {at}), \
             ('n', 'b@example.org', 'b@example.org', 'Bo', 'bo', 'active', 1, {at}); \
         insert into cultivars (id, name, name_key, plant_group, status, protected, visibility, origin, \
             chromosomes_about, version, created_at) \
             values ('c', 'Tern', 'tern', 'zonal', 'named', false, 'society', 'unknown', false, 1, {at}), \
             ('d', 'Gull', 'gull', 'zonal', 'named', false, 'society', 'unknown', false, 1, {at}); \
         insert into swap_offers (id, member_id, cultivar_id, how_many, promised, listing, version, created_at) \
             values ('o', 'm', 'c', 2, 1, 'open', 1, {at}); {} {} {} {} \
         insert into swap_want_choices values ('any', 1, 'd'), ('any', 2, 'c'); \
         insert into swap_rounds (id, mode, aim, max_chain, drop_out_per_mille, state, opened_at, answer_days, \
             answer_by, proposed_at, offers, wants, wants_served, wants_bound, version) \
             values ('q', 'by_post', 'society', 0, 0, 'proposed', {at}, 7, {at}, {at}, 1, 1, 1, 1, 1); \
         insert into swap_rings (id, round_id, kind, state, answer_by, version) \
             values ('g', 'q', 'ring', 'proposed', {at}, 1); \
         insert into swap_parties values ('g', 'm', 0, 'waiting', null), ('g', 'n', 1, 'accepted', {at}); \
         insert into swap_hand_overs (id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id, \
             state) values ('h', 'g', 0, 'm', 'n', 'o', 'group', 'c', 'promised');",
        want("one", "cultivar", "'d'", "null"),
        want("any", "any_of", "null", "null"),
        want("group", "group", "null", "'zonal'"),
        want("vain", "group", "null", "'regal'"),
    );
    conn.batch_execute(&given).unwrap();
    for wrong in [
        want("x", "cultivar", "null", "null"),
        want("x", "any_of", "'c'", "null"),
        want("x", "group", "'c'", "'zonal'"),
        want("x", "group", "null", "null"),
        want("x", "some", "'c'", "null"),
    ] {
        assert!(conn.batch_execute(&wrong).is_err(), "{wrong}");
    }
    let kept = |conn: &mut Conn| {
        let all = "select id as a, coalesce(cultivar_id, '-') as b, listing as c, 0 as n from swap_wants order by id";
        ask(conn, all).into_iter().map(|w| format!("{} {} {}", w.a, w.b, w.c)).collect::<Vec<_>>()
    };
    assert_eq!(kept(&mut conn), ["any - open", "group - open", "one d open", "vain - open"]);
    while storksbill_db::applied(&mut conn).unwrap().last().is_some_and(|last| last.as_str() >= "0007") {
        storksbill_db::revert_last(&mut conn).unwrap();
    }
    let before = ["any d withdrawn", "group c withdrawn", "one d open"];
    assert_eq!(kept(&mut conn), before);
    let points = "select want_id as a, cultivar_id as b, giver_id as c, place as n from swap_hand_overs";
    let pointing =
        |conn: &mut Conn| ask(conn, points).into_iter().map(|w| w.a + &w.b + &w.c).collect::<Vec<_>>();
    assert_eq!(pointing(&mut conn), ["groupcm"]);
    storksbill_db::migrate(&mut conn).unwrap();
    assert_eq!(kept(&mut conn), before);
    assert_eq!(pointing(&mut conn), ["groupcm"]);
    assert!(
        conn.batch_execute("delete from swap_wants where id = 'group'").is_err(),
        "a hand-over points at it"
    );
}

/// Two servers that start at once on one database: one migrates, the other waits.
#[test]
fn servers_that_start_together_migrate_once() {
    for _ in 0..5 {
        let database = TestDatabase::bare();
        let starts: Vec<_> = (0..4)
            .map(|_| {
                let url = database.url.clone();
                std::thread::spawn(move || Db::open(&url, 1).map(drop))
            })
            .collect();
        for start in starts {
            assert_eq!(start.join().unwrap(), Ok(()));
        }
    }
}

// ---- the doors ----

fn open(database: &TestDatabase) -> Db {
    Db::open(&database.url, 8).unwrap()
}

async fn keep(db: &Db, name: &'static str, value: &'static str) {
    db.write(move |conn| settings::insert(conn, name, value)).await.unwrap();
}

async fn value(db: &Db, name: &'static str) -> Option<String> {
    db.read(move |conn| settings::find(conn, name)).await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn six_writers_lose_no_update() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    keep(&db, "count", "0").await;
    let writers: Vec<_> = (0..6)
        .map(|_| {
            let db = db.clone();
            tokio::spawn(async move {
                for _ in 0..50 {
                    db.write(|conn| {
                        let count: i32 = settings::find(conn, "count")?.unwrap().parse().unwrap();
                        settings::update(conn, "count", &(count + 1).to_string())
                    })
                    .await
                    .unwrap();
                }
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    assert_eq!(value(&db, "count").await.as_deref(), Some("300"));
}

#[tokio::test]
async fn a_refused_write_leaves_nothing() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    let refused = db
        .write(|conn| {
            settings::insert(conn, "half", "done")?;
            Err::<(), _>(DbError::Stopped)
        })
        .await;
    assert!(matches!(refused, Err(DbError::Stopped)));
    assert_eq!(value(&db, "half").await, None);
}

#[tokio::test(flavor = "multi_thread")]
async fn queued_writes_each_have_their_own_end() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    let (go, wait) = mpsc::channel::<()>();
    let holder = {
        let db = db.clone();
        tokio::spawn(async move {
            db.write(move |conn| {
                // Holds the door until all the others stand before it.
                let _released = wait.recv_timeout(Duration::from_secs(10));
                settings::insert(conn, "first", "kept")
            })
            .await
        })
    };
    let queued: Vec<_> = (0..64)
        .map(|n: usize| {
            let db = db.clone();
            tokio::spawn(async move {
                db.write(move |conn| {
                    settings::insert(conn, &format!("write {n}"), "kept")?;
                    assert!(n % 16 != 3, "a closure that panics, as this test wants it to");
                    if n % 16 == 5 { Err(DbError::Stopped) } else { Ok(n) }
                })
                .await
            })
        })
        .collect();
    tokio::time::sleep(Duration::from_millis(100)).await;
    go.send(()).unwrap();
    holder.await.unwrap().unwrap();
    let mut expected = BTreeSet::from(["first".to_owned()]);
    for (n, write) in queued.into_iter().enumerate() {
        match write.await.unwrap() {
            Ok(answer) => {
                assert_eq!(answer, n);
                assert!(![3, 5].contains(&(n % 16)), "write {n} was to fail");
                expected.insert(format!("write {n}"));
            }
            Err(error) => {
                assert!(matches!(error, DbError::Stopped), "{error}");
                assert!([3, 5].contains(&(n % 16)), "write {n} failed: {error}");
            }
        }
    }
    // Seen past the doors: what was answered is in the file.
    let rows = ask(
        &mut database.connect(),
        "select name as a, '' as b, '' as c, 0 as n from server_settings where value = 'kept'",
    );
    assert_eq!(rows.into_iter().map(|w| w.a).collect::<BTreeSet<_>>(), expected);
    assert_eq!(expected.len(), 1 + 64 - 8);
}

#[tokio::test]
async fn a_panic_under_any_door_leaves_the_door_usable() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    keep(&db, "name", "value").await;
    for _ in 0..12 {
        let panics = |_: &mut Conn| -> Result<(), DbError> { panic!("as this test wants it") };
        assert!(matches!(db.write(panics).await, Err(DbError::Stopped)));
        assert!(matches!(db.read(panics).await, Err(DbError::Stopped)));
        // A glance may run on the asking thread, whose own business the panic then is.
        let glancing = db.clone();
        let glance = tokio::spawn(async move { glancing.glance(panics).await }).await;
        assert!(!matches!(glance, Ok(Ok(()))));
    }
    assert_eq!(value(&db, "name").await.as_deref(), Some("value"));
    let glanced = db.glance(|conn| settings::find(conn, "name")).await.unwrap();
    assert_eq!(glanced.as_deref(), Some("value"));
    keep(&db, "after", "value").await;
    assert_eq!(value(&db, "after").await.as_deref(), Some("value"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_read_sees_one_moment_while_others_write() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    keep(&db, "name", "before").await;
    let (looked, has_looked) = mpsc::channel();
    let (written, is_written) = mpsc::channel();
    let reading = {
        let db = db.clone();
        tokio::spawn(async move {
            db.read(move |conn| {
                let first = settings::find(conn, "name")?;
                looked.send(()).unwrap();
                is_written.recv_timeout(Duration::from_secs(10)).unwrap();
                Ok::<_, DbError>((first, settings::find(conn, "name")?))
            })
            .await
        })
    };
    tokio::task::spawn_blocking(move || has_looked.recv().unwrap()).await.unwrap();
    // The write is not held up by the reader either.
    db.write(|conn| settings::update(conn, "name", "after")).await.unwrap();
    written.send(()).unwrap();
    let before = Some("before".to_owned());
    assert_eq!(reading.await.unwrap().unwrap(), (before.clone(), before));
    assert_eq!(value(&db, "name").await.as_deref(), Some("after"));
}

#[tokio::test]
async fn the_doors_for_reading_do_not_write() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    assert!(db.read(|conn| settings::insert(conn, "name", "value")).await.is_err());
    assert!(db.glance(|conn| settings::insert(conn, "name", "value")).await.is_err());
    assert_eq!(value(&db, "name").await, None);
}

/// `PostgreSQL` gives up a transaction at its first failed statement and answers a `commit` as if all were
/// well; a caller must not be told that such a write was kept.
#[tokio::test]
async fn a_closure_that_swallows_a_failure_is_not_told_more_than_was_kept() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    keep(&db, "name", "value").await;
    let told = db
        .write(|conn| {
            settings::insert(conn, "before", "x")?;
            drop(settings::insert(conn, "name", "again"));
            Ok::<_, DbError>(())
        })
        .await;
    assert_eq!(told.is_ok(), value(&db, "before").await.is_some());
    assert_eq!(value(&db, "name").await.as_deref(), Some("value"));
}

#[tokio::test]
async fn a_broken_rule_of_the_schema_has_the_same_name_on_both() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    let region = |id: &str, key: &str, latitude: f64| {
        format!(
            "insert into regions (id, name, name_key, latitude, longitude, elevation_m, version, created_at) \
             values ('{id}', '{key}', '{key}', {latitude}, 0, 0, 1, '2026-05-10 12:00:00')"
        )
    };
    let mut names = Vec::new();
    for sql in [region("a", "vale", 53.0), region("b", "vale", 53.0), region("c", "moor", 91.0)] {
        let result = db.write(move |conn| conn.batch_execute(&sql).map_err(DbError::from)).await;
        names.push(match result {
            Ok(()) => "kept".to_owned(),
            Err(DbError::Constraint(rule)) => rule.name().to_owned(),
            Err(error) => panic!("{error}"),
        });
    }
    assert_eq!(names, ["kept", "regions_name_key_key", "regions_latitude_check"]);
}

/// A `PostgreSQL` that was restarted, or a fire wall that cut idle connections.
#[tokio::test]
async fn connections_that_were_cut_are_replaced() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    keep(&db, "name", "value").await;
    assert_eq!(value(&db, "name").await.as_deref(), Some("value"));
    if let Conn::Postgres(pg) = &mut database.connect() {
        // The pool's connections are those whose last words named this test's own schema.
        let schema = database.url.rsplit("%3D").next().unwrap().to_owned();
        let own = db
            .read(move |conn| {
                let pid =
                    ask(conn, "select current_schema()::text as a, '' as b, '' as c, pg_backend_pid() as n");
                assert_eq!(pid[0].a, schema);
                Ok::<_, DbError>(pid[0].n)
            })
            .await
            .unwrap();
        pg.batch_execute(&format!("select pg_terminate_backend({own})")).unwrap();
    }
    assert_eq!(value(&db, "name").await.as_deref(), Some("value"));
    keep(&db, "after", "value").await;
}

/// Every moment and text reads back as it was written, on either database.
#[tokio::test]
async fn what_is_written_reads_back() {
    let database = TestDatabase::fresh();
    let db = open(&database);
    let mut member = storksbill_tests::new_member(
        "Mère Ædda O’Wick 🌺",
        "2026-05-10T12:00:00.123456Z".parse::<chrono::DateTime<chrono::Utc>>().unwrap().naive_utc(),
    );
    member.request_note = Some("'); drop table members; --\n\t%_\\".to_owned());
    let (id, written) = (member.id, member.clone());
    db.write(move |conn| storksbill_db::rows::members::insert(conn, &member)).await.unwrap();
    let read = db.read(move |conn| storksbill_db::rows::members::find(conn, id)).await.unwrap();
    assert_eq!(read, Some(written));
}
