-- Wrong passwords and one-time codes, counted. Subjects are keyed hashes: of an account's e-mail address, of the address
-- a client comes from, or of both together. An account that is not there counts as one that is.
create table login_attempts (
    kind text not null constraint login_attempts_kind_check check (kind in ('account', 'address', 'account_at_address')),
    subject text not null,
    -- The first failure of those that are counted.
    window_start timestamp,
    failures integer not null,
    blocked_until timestamp,
    -- The last time the proof was right; kept of an account at an address alone.
    succeeded_at timestamp,
    constraint login_attempts_pkey primary key (kind, subject)
);

-- One row for every wish to join, whether or not it made an account: so both cost the same.
create table join_attempts (
    id text not null primary key,
    -- Keyed hash of the client's address.
    address text not null,
    -- The account that waits for a decision; null where the e-mail address had one already.
    member_id text references members (id) on delete cascade,
    asked_at timestamp not null
);
create index join_attempts_address_idx on join_attempts (address);
create index join_attempts_member_id_idx on join_attempts (member_id);

-- In this database alone. A check cannot be changed in place, so log-ins are laid anew, with the tokens that refer to them.
create table sessions_next (
    id text not null primary key,
    member_id text not null references members (id),
    device text,
    created_at timestamp not null,
    expires_at timestamp not null,
    ended_at timestamp,
    end_reason text constraint sessions_end_reason_check
        check (end_reason in ('logged_out', 'logged_out_everywhere', 'password_changed', 'token_reused', 'suspended',
            'too_many'))
);
insert into sessions_next (id, member_id, device, created_at, expires_at, ended_at, end_reason)
    select id, member_id, device, created_at, expires_at, ended_at, end_reason from sessions;

create table refresh_tokens_next (
    -- SHA-256 of the token; a thief of the file can not log in with it.
    token_hash text not null primary key,
    session_id text not null references sessions_next (id),
    issued_at timestamp not null,
    expires_at timestamp not null,
    -- Set at the first use; a second use ends the session.
    used_at timestamp
);
insert into refresh_tokens_next (token_hash, session_id, issued_at, expires_at, used_at)
    select token_hash, session_id, issued_at, expires_at, used_at from refresh_tokens;

drop table refresh_tokens;
drop table sessions;
alter table sessions_next rename to sessions;
alter table refresh_tokens_next rename to refresh_tokens;
create index sessions_member_id_idx on sessions (member_id);
create index refresh_tokens_session_id_idx on refresh_tokens (session_id);
-- In both again.
