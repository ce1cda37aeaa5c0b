-- When the membership ended, where it did: only an administrator lets such a member in again.
alter table members add column left_at timestamp;
update members set left_at = created_at where standing = 'left';
-- Who left holds nothing any more.
delete from society_roles where member_id in (select id from members where standing = 'left');
delete from club_members where member_id in (select id from members where standing = 'left');
delete from calendar_feeds where member_id in (select id from members where standing = 'left');
delete from show_officials where member_id in (select id from members where standing = 'left')
    and show_id in (select id from shows where state not in ('final', 'cancelled'));
update invitations set expires_at = created_at
    where used_at is null and invited_by in (select id from members where standing = 'left');

-- One-time codes that prove whose an account is, handed over by an officer; only their hash is kept.
create table account_codes (
    code_sha256 text not null primary key,
    member_id text not null references members (id),
    issued_by text not null references members (id),
    issued_at timestamp not null,
    expires_at timestamp not null,
    used_at timestamp
);
create index account_codes_member_id_idx on account_codes (member_id);

-- Who did what to roles, standing, rolls, invitations, exports, publications and results. Lines are added and never
-- changed. Whom and what it is about is no reference: a line outlives what it tells of.
create table society_log (
    id text not null primary key,
    at timestamp not null,
    -- Null for the command line.
    by_id text,
    -- From which address it was asked.
    from_address text,
    act text not null constraint society_log_act_check
        check (act in ('roles_set', 'standing_set', 'club_role_set', 'club_left', 'invited', 'invitation_taken',
            'request_approved', 'request_refused', 'code_issued', 'password_reset', 'email_changed',
            'administrator_made', 'exported', 'schedule_published', 'results_given_out')),
    about_id text,
    club_id text,
    words text not null
);
create index society_log_club_id_id_idx on society_log (club_id, id);
create index society_log_about_id_id_idx on society_log (about_id, id);
-- In this database alone: how a change is refused.
create trigger society_log_no_update before update on society_log
begin
    select raise(abort, 'the log of the society is never changed');
end;
create trigger society_log_no_delete before delete on society_log
begin
    select raise(abort, 'the log of the society is never changed');
end;
-- A replacing insert would pass the trigger above.
create trigger society_log_no_replace before insert on society_log
    when exists (select 1 from society_log where id = new.id)
begin
    select raise(abort, 'the log of the society is never changed');
end;
-- In both again.
