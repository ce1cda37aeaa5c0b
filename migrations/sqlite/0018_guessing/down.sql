-- In this database alone: laid anew.
create table sessions_before (
    id text not null primary key,
    member_id text not null references members (id),
    device text,
    created_at timestamp not null,
    expires_at timestamp not null,
    ended_at timestamp,
    end_reason text constraint sessions_end_reason_check
        check (end_reason in ('logged_out', 'logged_out_everywhere', 'password_changed', 'token_reused', 'suspended'))
);
insert into sessions_before (id, member_id, device, created_at, expires_at, ended_at, end_reason)
    select id, member_id, device, created_at, expires_at, ended_at,
        case end_reason when 'too_many' then 'logged_out' else end_reason end
    from sessions;

create table refresh_tokens_before (
    token_hash text not null primary key,
    session_id text not null references sessions_before (id),
    issued_at timestamp not null,
    expires_at timestamp not null,
    used_at timestamp
);
insert into refresh_tokens_before (token_hash, session_id, issued_at, expires_at, used_at)
    select token_hash, session_id, issued_at, expires_at, used_at from refresh_tokens;

drop table refresh_tokens;
drop table sessions;
alter table sessions_before rename to sessions;
alter table refresh_tokens_before rename to refresh_tokens;
create index sessions_member_id_idx on sessions (member_id);
create index refresh_tokens_session_id_idx on refresh_tokens (session_id);
-- In both again.

drop table join_attempts;
drop table login_attempts;
