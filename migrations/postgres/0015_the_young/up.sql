-- The young, and others who are to be shielded: no published form tells more of them than initials. The day of birth
-- need not be kept for it.
alter table members add column is_protected boolean not null default false;
-- The name as other members read it: kept in step with `name` and `is_protected` by whatever writes a member.
alter table members add column shown_name text collate "C" not null default '';
-- A guest without an account is protected at the show alone; a member wherever they go.
alter table show_exhibitors add column is_protected boolean not null default false;
-- Whose an award of a show's results is, where it is no member's.
alter table trophy_awards add column exhibitor_id text collate "C" references show_exhibitors (id);

-- In this database alone: how days are reckoned with.
update show_exhibitors set is_protected = true
    where born_on > (select s.held_on - interval '18 years' from shows s where s.id = show_exhibitors.show_id);
update members set is_protected = true where exists (
    select 1 from show_exhibitors x where x.member_id = members.id and x.born_on > current_date - interval '18 years');
-- In both again.
-- The first initial alone where somebody is protected: the next edit of the record makes it whole.
update members set shown_name = case when is_protected then substr(name, 1, 1) || '.' else name end;

update trophy_awards set exhibitor_id = (select x.id from show_exhibitors x
    where x.show_id = trophy_awards.show_id and x.member_id = trophy_awards.member_id)
    where show_id is not null and member_id is not null;
update trophy_awards set exhibitor_id = (select min(x.id) from show_exhibitors x
    where x.show_id = trophy_awards.show_id and x.member_id is null and x.name = trophy_awards.name)
    where show_id is not null and member_id is null;
