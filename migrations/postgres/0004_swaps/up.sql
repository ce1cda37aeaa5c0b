create table swap_offers (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    cultivar_id text collate "C" not null references cultivars (id),
    plant_id text collate "C" references plants (id),
    how_many integer not null constraint swap_offers_how_many_check check (how_many between 0 and 1000),
    -- Cuttings in proposed or accepted rings; never more than offered, whoever writes.
    promised integer not null constraint swap_offers_promised_check check (promised between 0 and how_many),
    note text collate "C",
    listing text collate "C" not null constraint swap_offers_listing_check check (listing in ('open', 'withdrawn', 'fulfilled')),
    version integer not null,
    created_at timestamp not null
);
create index swap_offers_member_id_id_idx on swap_offers (member_id, id);
create index swap_offers_cultivar_id_idx on swap_offers (cultivar_id);

create table swap_wants (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    cultivar_id text collate "C" not null references cultivars (id),
    want_rank integer not null constraint swap_wants_want_rank_check check (want_rank between 1 and 100),
    -- True while the want stands in a proposed or accepted ring.
    promised boolean not null,
    note text collate "C",
    listing text collate "C" not null constraint swap_wants_listing_check check (listing in ('open', 'withdrawn', 'fulfilled')),
    version integer not null,
    created_at timestamp not null
);
create index swap_wants_member_id_id_idx on swap_wants (member_id, id);
create index swap_wants_cultivar_id_idx on swap_wants (cultivar_id);
-- One open want of a cultivar per member; what was met or taken back may be wanted again.
create unique index swap_wants_member_id_cultivar_id_key on swap_wants (member_id, cultivar_id) where listing = 'open';

create table swap_rounds (
    id text collate "C" not null primary key,
    -- Null when the timer ran it.
    run_by text collate "C" references members (id),
    run_at timestamp not null,
    answer_by timestamp not null,
    offers integer not null,
    wants integer not null,
    wants_served integer not null,
    -- No set of rings of two and three could have served more wants than this.
    wants_bound integer not null
);
create index swap_rounds_run_at_idx on swap_rounds (run_at);

create table swap_rings (
    id text collate "C" not null primary key,
    round_id text collate "C" not null references swap_rounds (id),
    state text collate "C" not null constraint swap_rings_state_check
        check (state in ('proposed', 'accepted', 'declined', 'lapsed')),
    answer_by timestamp not null,
    version integer not null
);
create index swap_rings_round_id_idx on swap_rings (round_id);
create index swap_rings_state_answer_by_idx on swap_rings (state, answer_by);

create table swap_hand_overs (
    id text collate "C" not null primary key,
    ring_id text collate "C" not null references swap_rings (id),
    place integer not null,
    giver_id text collate "C" not null references members (id),
    receiver_id text collate "C" not null references members (id),
    offer_id text collate "C" not null references swap_offers (id),
    want_id text collate "C" not null references swap_wants (id),
    cultivar_id text collate "C" not null references cultivars (id),
    -- The giver's answer to the ring as a whole: each member of a ring gives once.
    answer text collate "C" not null constraint swap_hand_overs_answer_check
        check (answer in ('waiting', 'accepted', 'declined')),
    answered_at timestamp,
    constraint swap_hand_overs_ring_id_place_key unique (ring_id, place),
    constraint swap_hand_overs_two_people_check check (giver_id <> receiver_id)
);
create index swap_hand_overs_giver_id_idx on swap_hand_overs (giver_id);
create index swap_hand_overs_offer_id_idx on swap_hand_overs (offer_id);
create index swap_hand_overs_want_id_idx on swap_hand_overs (want_id);
