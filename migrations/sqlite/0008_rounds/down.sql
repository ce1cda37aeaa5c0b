delete from jobs where kind in ('swap_round', 'swap_recourse', 'swap_rerun');
create table jobs_before (
    id text not null primary key,
    kind text not null constraint jobs_kind_check check (kind in ('refit', 'backtest', 'weather_fetch')),
    state text not null constraint jobs_state_check check (state in ('waiting', 'running', 'done', 'failed')),
    progress double not null constraint jobs_progress_check check (progress between 0 and 1),
    -- What it is at, or what came of it, in one line.
    words text not null,
    -- The record it works on, where there is one: a station.
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
insert into jobs_before (id, kind, state, progress, words, subject, result, problem, asked_by, lease_until,
        attempts, created_at, started_at, ended_at)
    select id, kind, state, progress, words, subject, result, problem, asked_by, lease_until, attempts,
        created_at, started_at, ended_at from jobs;
drop table jobs;
alter table jobs_before rename to jobs;
create index jobs_state_id_idx on jobs (state, id);
create index jobs_kind_created_at_idx on jobs (kind, created_at);

drop table swap_events;
drop table swap_attendances;

create table swap_rounds_before (
    id text not null primary key,
    -- Null when the timer ran it.
    run_by text references members (id),
    run_at timestamp not null,
    answer_by timestamp not null,
    offers integer not null,
    wants integer not null,
    wants_served integer not null,
    -- No set of rings of two and three could have served more wants than this.
    wants_bound integer not null
);
-- A round that proposed nothing yet has no place in the form before.
insert into swap_rounds_before (id, run_by, run_at, answer_by, offers, wants, wants_served, wants_bound)
    select id, opened_by, proposed_at, answer_by, offers, wants, wants_served, wants_bound from swap_rounds
    where proposed_at is not null and answer_by is not null;

create table swap_rings_before (
    id text not null primary key,
    round_id text not null references swap_rounds_before (id),
    state text not null constraint swap_rings_state_check
        check (state in ('proposed', 'accepted', 'declined', 'lapsed')),
    answer_by timestamp not null,
    version integer not null
);
insert into swap_rings_before (id, round_id, state, answer_by, version)
    select id, round_id, case when state = 'handed_over' then 'accepted' else state end, answer_by, version
    from swap_rings where kind = 'ring';

drop index swap_hand_overs_ring_id_place_key;
create table swap_hand_overs_before (
    id text not null primary key,
    ring_id text not null references swap_rings_before (id),
    place integer not null,
    giver_id text not null references members (id),
    receiver_id text not null references members (id),
    offer_id text not null references swap_offers (id),
    want_id text not null references swap_wants (id),
    cultivar_id text not null references cultivars (id),
    -- The giver's answer to the ring as a whole: each member of a ring gives once.
    answer text not null constraint swap_hand_overs_answer_check
        check (answer in ('waiting', 'accepted', 'declined')),
    answered_at timestamp,
    constraint swap_hand_overs_ring_id_place_key unique (ring_id, place),
    constraint swap_hand_overs_two_people_check check (giver_id <> receiver_id)
);
insert into swap_hand_overs_before (id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id,
        answer, answered_at)
    select swap_hand_overs.id, swap_hand_overs.ring_id, swap_hand_overs.place, giver_id, receiver_id, offer_id,
        want_id, cultivar_id, answer, answered_at
    from swap_hand_overs
    inner join swap_rings on swap_rings.id = swap_hand_overs.ring_id and swap_rings.kind = 'ring'
    inner join swap_parties
        on swap_parties.ring_id = swap_hand_overs.ring_id and swap_parties.member_id = swap_hand_overs.giver_id;

drop table swap_hand_overs;
drop table swap_parties;
drop table swap_rings;
drop table swap_rounds;
alter table swap_rounds_before rename to swap_rounds;
alter table swap_rings_before rename to swap_rings;
alter table swap_hand_overs_before rename to swap_hand_overs;
create index swap_rounds_run_at_idx on swap_rounds (run_at);
create index swap_rings_round_id_idx on swap_rings (round_id);
create index swap_rings_state_answer_by_idx on swap_rings (state, answer_by);
create index swap_hand_overs_giver_id_idx on swap_hand_overs (giver_id);
create index swap_hand_overs_offer_id_idx on swap_hand_overs (offer_id);
create index swap_hand_overs_want_id_idx on swap_hand_overs (want_id);
alter table swap_offers drop column gift;
