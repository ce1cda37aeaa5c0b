drop table society_log;
drop function society_log_stands();
drop table account_codes;
alter table members drop column left_at;
