drop table society_log;
-- In this database alone: what refuses a change.
drop function society_log_stands();
-- In both again.
drop table account_codes;
alter table members drop column left_at;
