drop table diary_entries;
drop table plants;
drop table cultivars;
