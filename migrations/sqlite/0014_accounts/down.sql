drop table society_log;
drop table account_codes;
alter table members drop column left_at;
