-- Given freely: such cuttings start chains and ask for nothing back.
alter table swap_offers add column gift boolean not null default false;

-- A round is opened, frozen, proposed and closed; before this change it was one moment. Checks and references
-- cannot be changed in place, so rounds, rings and hand-overs are laid anew together.
create table swap_rounds_next (
    id text not null primary key,
    mode text not null constraint swap_rounds_mode_check check (mode in ('by_post', 'meeting', 'pairs')),
    aim text not null constraint swap_rounds_aim_check check (aim in ('society', 'expected', 'robust', 'count')),
    -- Receivers in a chain at most; none where it is 0.
    max_chain integer not null constraint swap_rounds_max_chain_check check (max_chain between 0 and 4),
    -- Chance in a thousand that somebody drops out, where the aim asks for it.
    drop_out_per_mille integer not null
        constraint swap_rounds_drop_out_per_mille_check check (drop_out_per_mille between 0 and 900),
    state text not null constraint swap_rounds_state_check
        check (state in ('open', 'frozen', 'proposed', 'closed', 'cancelled')),
    -- Whose meeting, where it is held at one; null for everybody.
    club_id text references clubs (id),
    meets_on date,
    -- Null when the timer opened it.
    opened_by text references members (id),
    opened_at timestamp not null,
    -- Null where an officer says when.
    freezes_at timestamp,
    frozen_at timestamp,
    answer_days integer not null constraint swap_rounds_answer_days_check check (answer_days between 1 and 60),
    answer_by timestamp,
    -- JSON: everything the round was solved from.
    snapshot text,
    snapshot_sha256 text,
    proposed_at timestamp,
    closed_at timestamp,
    offers integer not null,
    wants integer not null,
    wants_served integer not null,
    -- No choice could have served more wants than this.
    wants_bound integer not null,
    -- JSON: how good it is, what was left unmet and why, what one more offer would bring.
    outcome text,
    version integer not null,
    constraint swap_rounds_meeting_check check ((mode = 'meeting') = (meets_on is not null)),
    constraint swap_rounds_snapshot_check check ((snapshot is null) = (snapshot_sha256 is null))
);
insert into swap_rounds_next (id, mode, aim, max_chain, drop_out_per_mille, state, opened_by, opened_at,
        answer_days, answer_by, proposed_at, offers, wants, wants_served, wants_bound, version)
    select id, 'by_post', 'count', 0, 0,
        case when exists (select 1 from swap_rings where round_id = swap_rounds.id and state = 'proposed')
            then 'proposed' else 'closed' end,
        run_by, run_at, 7, answer_by, run_at, offers, wants, wants_served, wants_bound, 1
    from swap_rounds;

create table swap_rings_next (
    id text not null primary key,
    round_id text not null references swap_rounds_next (id),
    -- In a chain the last receives and gives nothing, and the first gives for nothing.
    kind text not null constraint swap_rings_kind_check check (kind in ('ring', 'chain')),
    state text not null constraint swap_rings_state_check
        check (state in ('proposed', 'accepted', 'declined', 'lapsed', 'handed_over')),
    answer_by timestamp not null,
    -- The ring that somebody left, in whose place it was proposed.
    replaces_id text references swap_rings_next (id),
    -- Why it was chosen, in one sentence.
    why text,
    version integer not null
);
insert into swap_rings_next (id, round_id, kind, state, answer_by, version)
    select id, round_id, 'ring', state, answer_by, version from swap_rings;

create table swap_parties (
    ring_id text not null references swap_rings_next (id),
    member_id text not null references members (id),
    place integer not null,
    answer text not null constraint swap_parties_answer_check
        check (answer in ('waiting', 'accepted', 'declined')),
    answered_at timestamp,
    constraint swap_parties_pkey primary key (ring_id, member_id),
    constraint swap_parties_ring_id_place_key unique (ring_id, place)
);
insert into swap_parties (ring_id, member_id, place, answer, answered_at)
    select ring_id, giver_id, place, answer, answered_at from swap_hand_overs;
create index swap_parties_member_id_ring_id_idx on swap_parties (member_id, ring_id);

create table swap_hand_overs_next (
    id text not null primary key,
    ring_id text not null references swap_rings_next (id),
    place integer not null,
    giver_id text not null references members (id),
    receiver_id text not null references members (id),
    offer_id text not null references swap_offers (id),
    want_id text not null references swap_wants (id),
    cultivar_id text not null references cultivars (id),
    state text not null constraint swap_hand_overs_state_check
        check (state in ('promised', 'sent', 'received', 'failed')),
    sent_at timestamp,
    received_at timestamp,
    condition text constraint swap_hand_overs_condition_check
        check (condition in ('good', 'limp', 'poor', 'dead')),
    -- The receiver's words on what came, or the words of whoever says that it did not.
    note text,
    -- The receiver's record of what came.
    received_plant_id text references plants (id),
    constraint swap_hand_overs_two_people_check check (giver_id <> receiver_id),
    constraint swap_hand_overs_received_check check ((state = 'received') = (condition is not null))
);
insert into swap_hand_overs_next (id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id, state)
    select id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id, 'promised'
    from swap_hand_overs;

drop table swap_hand_overs;
drop table swap_rings;
drop table swap_rounds;
alter table swap_rounds_next rename to swap_rounds;
alter table swap_rings_next rename to swap_rings;
alter table swap_hand_overs_next rename to swap_hand_overs;
create index swap_rounds_opened_at_idx on swap_rounds (opened_at, id);
create index swap_rounds_state_freezes_at_idx on swap_rounds (state, freezes_at);
create index swap_rings_round_id_idx on swap_rings (round_id);
create index swap_rings_state_answer_by_idx on swap_rings (state, answer_by);
create unique index swap_hand_overs_ring_id_place_key on swap_hand_overs (ring_id, place);
create index swap_hand_overs_giver_id_idx on swap_hand_overs (giver_id);
create index swap_hand_overs_receiver_id_idx on swap_hand_overs (receiver_id);
create index swap_hand_overs_offer_id_idx on swap_hand_overs (offer_id);
create index swap_hand_overs_want_id_idx on swap_hand_overs (want_id);

-- Who comes to a round that is held at a meeting, and at which table they are found.
create table swap_attendances (
    round_id text not null references swap_rounds (id),
    member_id text not null references members (id),
    table_label text,
    created_at timestamp not null,
    constraint swap_attendances_pkey primary key (round_id, member_id)
);

-- What became of a round, step by step; nothing here is ever changed.
create table swap_events (
    id text not null primary key,
    round_id text not null references swap_rounds (id),
    ring_id text references swap_rings (id),
    hand_over_id text references swap_hand_overs (id),
    -- Null when the server did it.
    member_id text references members (id),
    at timestamp not null,
    what text not null constraint swap_events_what_check check (what in (
        'opened', 'attending', 'not_attending', 'frozen', 'proposed', 'replaced', 'accepted', 'declined', 'locked',
        'lapsed', 'sent', 'received', 'failed', 'handed_over', 'closed', 'cancelled')),
    words text
);
create index swap_events_round_id_id_idx on swap_events (round_id, id);

create table jobs_next (
    id text not null primary key,
    kind text not null constraint jobs_kind_check check (kind in (
        'refit', 'backtest', 'weather_fetch', 'swap_round', 'swap_recourse', 'swap_rerun')),
    state text not null constraint jobs_state_check check (state in ('waiting', 'running', 'done', 'failed')),
    progress double not null constraint jobs_progress_check check (progress between 0 and 1),
    -- What it is at, or what came of it, in one line.
    words text not null,
    -- The record it works on, where there is one: a station, a round, a ring.
    subject text,
    -- JSON, once it is done.
    result text,
    -- Why it failed, in one line.
    problem text,
    -- Null when the timetable asked.
    asked_by text references members (id),
    -- While it runs: a server that does not report until then has lost it to the next.
    lease_until timestamp,
    attempts integer not null constraint jobs_attempts_check check (attempts >= 0),
    created_at timestamp not null,
    started_at timestamp,
    ended_at timestamp,
    constraint jobs_lease_check check ((state = 'running') = (lease_until is not null))
);
insert into jobs_next (id, kind, state, progress, words, subject, result, problem, asked_by, lease_until, attempts,
        created_at, started_at, ended_at)
    select id, kind, state, progress, words, subject, result, problem, asked_by, lease_until, attempts,
        created_at, started_at, ended_at from jobs;
drop table jobs;
alter table jobs_next rename to jobs;
create index jobs_state_id_idx on jobs (state, id);
create index jobs_kind_created_at_idx on jobs (kind, created_at);
