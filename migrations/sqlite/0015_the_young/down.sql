alter table trophy_awards drop column exhibitor_id;
alter table show_exhibitors drop column is_protected;
alter table members drop column shown_name;
alter table members drop column is_protected;
