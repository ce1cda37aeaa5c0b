//! The tables, as the migrations of both databases lay them. A test compares these with the real ones.

diesel::table! {
    server_settings (name) {
        name -> Text,
        value -> Text,
    }
}

diesel::table! {
    regions (id) {
        id -> Text,
        name -> Text,
        name_key -> Text,
        latitude -> Double,
        longitude -> Double,
        elevation_m -> Double,
        version -> Integer,
        created_at -> Timestamp,
        plant_health_zone -> Text,
    }
}

diesel::table! {
    clubs (id) {
        id -> Text,
        name -> Text,
        name_key -> Text,
        region_id -> Text,
        meeting_place -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    members (id) {
        id -> Text,
        email -> Text,
        email_key -> Text,
        name -> Text,
        name_key -> Text,
        password_hash -> Nullable<Text>,
        standing -> Text,
        region_id -> Nullable<Text>,
        requested_club_id -> Nullable<Text>,
        request_note -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
        left_at -> Nullable<Timestamp>,
        is_protected -> Bool,
        shown_name -> Text,
    }
}

diesel::table! {
    society_roles (member_id, role) {
        member_id -> Text,
        role -> Text,
    }
}

diesel::table! {
    club_members (club_id, member_id) {
        club_id -> Text,
        member_id -> Text,
        role -> Text,
        joined_at -> Timestamp,
    }
}

diesel::table! {
    club_shares (member_id, club_id) {
        member_id -> Text,
        club_id -> Text,
        shares -> Bool,
    }
}

diesel::table! {
    club_invitations (club_id, member_id) {
        club_id -> Text,
        member_id -> Text,
        role -> Text,
        asked_by -> Text,
        asked_at -> Timestamp,
        state -> Text,
        answered_at -> Nullable<Timestamp>,
        taken_back -> Bool,
    }
}

diesel::table! {
    invitations (id) {
        id -> Text,
        token_hash -> Text,
        email -> Text,
        email_key -> Text,
        club_id -> Nullable<Text>,
        invited_by -> Nullable<Text>,
        created_at -> Timestamp,
        expires_at -> Timestamp,
        used_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    sessions (id) {
        id -> Text,
        member_id -> Text,
        device -> Nullable<Text>,
        created_at -> Timestamp,
        expires_at -> Timestamp,
        ended_at -> Nullable<Timestamp>,
        end_reason -> Nullable<Text>,
    }
}

diesel::table! {
    refresh_tokens (token_hash) {
        token_hash -> Text,
        session_id -> Text,
        issued_at -> Timestamp,
        expires_at -> Timestamp,
        used_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    login_attempts (kind, subject) {
        kind -> Text,
        subject -> Text,
        window_start -> Nullable<Timestamp>,
        failures -> Integer,
        blocked_until -> Nullable<Timestamp>,
        succeeded_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    join_attempts (id) {
        id -> Text,
        address -> Text,
        member_id -> Nullable<Text>,
        asked_at -> Timestamp,
    }
}

diesel::table! {
    idempotency_keys (member_id, idempotency_key) {
        member_id -> Text,
        idempotency_key -> Text,
        fingerprint -> Text,
        status -> Integer,
        location -> Nullable<Text>,
        etag -> Nullable<Text>,
        body -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    stations (id) {
        id -> Text,
        region_id -> Text,
        name -> Text,
        name_key -> Text,
        latitude -> Double,
        longitude -> Double,
        elevation_m -> Double,
        source -> Text,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    readings (station_id, day) {
        station_id -> Text,
        day -> Date,
        min_c -> Double,
        max_c -> Double,
        rain_mm -> Nullable<Double>,
        humidity_pct -> Nullable<Double>,
    }
}

diesel::table! {
    cultivars (id) {
        id -> Text,
        name -> Text,
        name_key -> Text,
        plant_group -> Text,
        raiser -> Nullable<Text>,
        raised_year -> Nullable<Integer>,
        status -> Text,
        protected -> Bool,
        visibility -> Text,
        origin -> Text,
        seed_parent_id -> Nullable<Text>,
        pollen_parent_id -> Nullable<Text>,
        source_id -> Nullable<Text>,
        seed_gamete -> Nullable<Text>,
        seed_gamete_sets -> Nullable<Integer>,
        seed_gamete_lambda -> Nullable<Double>,
        pollen_gamete -> Nullable<Text>,
        pollen_gamete_sets -> Nullable<Integer>,
        pollen_gamete_lambda -> Nullable<Double>,
        sport_layers -> Nullable<Text>,
        reverts_to_id -> Nullable<Text>,
        sets -> Nullable<Integer>,
        chromosomes -> Nullable<Integer>,
        chromosomes_about -> Bool,
        merged_into_id -> Nullable<Text>,
        notes -> Nullable<Text>,
        entered_by -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    cultivar_candidates (cultivar_id, place) {
        cultivar_id -> Text,
        place -> Integer,
        candidate_id -> Nullable<Text>,
        share -> Integer,
    }
}

diesel::table! {
    pedigree_state (id) {
        id -> Integer,
        version -> BigInt,
    }
}

diesel::table! {
    pedigree_changes (version, individual_id) {
        version -> BigInt,
        individual_id -> Text,
    }
}

diesel::table! {
    plants (id) {
        id -> Text,
        owner_id -> Text,
        cultivar_id -> Text,
        region_id -> Text,
        label -> Nullable<Text>,
        how_many -> Integer,
        pot_um -> Nullable<BigInt>,
        environment -> Text,
        heated_to_c -> Nullable<Double>,
        form -> Text,
        source_plant_id -> Nullable<Text>,
        source_member_id -> Nullable<Text>,
        got_on -> Nullable<Date>,
        visibility -> Text,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    diary_entries (id) {
        id -> Text,
        plant_id -> Text,
        day -> Date,
        kind -> Text,
        how_many -> Nullable<Integer>,
        pot_um -> Nullable<BigInt>,
        note -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    swap_offers (id) {
        id -> Text,
        member_id -> Text,
        cultivar_id -> Text,
        plant_id -> Nullable<Text>,
        how_many -> Integer,
        promised -> Integer,
        note -> Nullable<Text>,
        listing -> Text,
        version -> Integer,
        created_at -> Timestamp,
        health_declared_on -> Nullable<Date>,
        gift -> Bool,
    }
}

diesel::table! {
    swap_wants (id) {
        id -> Text,
        member_id -> Text,
        want_rank -> Integer,
        promised -> Bool,
        note -> Nullable<Text>,
        listing -> Text,
        version -> Integer,
        created_at -> Timestamp,
        cultivar_id -> Nullable<Text>,
        plant_group -> Nullable<Text>,
        form -> Text,
    }
}

diesel::table! {
    swap_want_choices (want_id, place) {
        want_id -> Text,
        place -> Integer,
        cultivar_id -> Text,
    }
}

diesel::table! {
    swap_terms (member_id) {
        member_id -> Text,
        give_most -> Integer,
        receive_most -> Integer,
        by_post -> Bool,
        within_km -> Nullable<Integer>,
        version -> Integer,
    }
}

diesel::table! {
    swap_refusals (member_id, other_id) {
        member_id -> Text,
        other_id -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    swap_rounds (id) {
        id -> Text,
        mode -> Text,
        aim -> Text,
        max_chain -> Integer,
        drop_out_per_mille -> Integer,
        state -> Text,
        club_id -> Nullable<Text>,
        meets_on -> Nullable<Date>,
        opened_by -> Nullable<Text>,
        opened_at -> Timestamp,
        freezes_at -> Nullable<Timestamp>,
        frozen_at -> Nullable<Timestamp>,
        answer_days -> Integer,
        answer_by -> Nullable<Timestamp>,
        snapshot -> Nullable<Text>,
        snapshot_sha256 -> Nullable<Text>,
        proposed_at -> Nullable<Timestamp>,
        closed_at -> Nullable<Timestamp>,
        offers -> Integer,
        wants -> Integer,
        wants_served -> Integer,
        wants_bound -> Integer,
        outcome -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    swap_rings (id) {
        id -> Text,
        round_id -> Text,
        kind -> Text,
        state -> Text,
        answer_by -> Timestamp,
        replaces_id -> Nullable<Text>,
        why -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    swap_parties (ring_id, member_id) {
        ring_id -> Text,
        member_id -> Text,
        place -> Integer,
        answer -> Text,
        answered_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    swap_hand_overs (id) {
        id -> Text,
        ring_id -> Text,
        place -> Integer,
        giver_id -> Text,
        receiver_id -> Text,
        offer_id -> Text,
        want_id -> Text,
        cultivar_id -> Text,
        state -> Text,
        sent_at -> Nullable<Timestamp>,
        received_at -> Nullable<Timestamp>,
        condition -> Nullable<Text>,
        note -> Nullable<Text>,
        received_plant_id -> Nullable<Text>,
    }
}

diesel::table! {
    swap_attendances (round_id, member_id) {
        round_id -> Text,
        member_id -> Text,
        table_label -> Nullable<Text>,
        created_at -> Timestamp,
    }
}

diesel::table! {
    swap_events (id) {
        id -> Text,
        round_id -> Text,
        ring_id -> Nullable<Text>,
        hand_over_id -> Nullable<Text>,
        member_id -> Nullable<Text>,
        at -> Timestamp,
        what -> Text,
        words -> Nullable<Text>,
    }
}

diesel::table! {
    jobs (id) {
        id -> Text,
        kind -> Text,
        state -> Text,
        progress -> Double,
        words -> Text,
        subject -> Nullable<Text>,
        result -> Nullable<Text>,
        problem -> Nullable<Text>,
        asked_by -> Nullable<Text>,
        lease_until -> Nullable<Timestamp>,
        attempts -> Integer,
        created_at -> Timestamp,
        started_at -> Nullable<Timestamp>,
        ended_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    job_askers (job_id, member_id) {
        job_id -> Text,
        member_id -> Text,
    }
}

diesel::table! {
    fits (id) {
        id -> Text,
        version_no -> Integer,
        made_at -> Timestamp,
        fingerprint -> Text,
        records -> Integer,
        growers -> Integer,
        parameters -> Text,
        notes -> Text,
    }
}

diesel::table! {
    backtests (id) {
        id -> Text,
        fit_id -> Text,
        made_at -> Timestamp,
        report -> Text,
    }
}

diesel::table! {
    weather_sources (station_id) {
        station_id -> Text,
        url_template -> Text,
        format -> Text,
        every_hours -> Integer,
        enabled -> Bool,
        etag -> Nullable<Text>,
        last_modified -> Nullable<Text>,
        last_tried_at -> Nullable<Timestamp>,
        last_ok_at -> Nullable<Timestamp>,
        last_problem -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    inside_readings (id) {
        id -> Text,
        member_id -> Text,
        region_id -> Text,
        environment -> Text,
        heated_to_c -> Nullable<Double>,
        day -> Date,
        min_c -> Double,
        max_c -> Double,
    }
}

diesel::table! {
    notices (id) {
        id -> Text,
        member_id -> Text,
        kind -> Text,
        due_on -> Date,
        words -> Text,
        subject_kind -> Nullable<Text>,
        subject_id -> Nullable<Text>,
        created_at -> Timestamp,
        seen_at -> Nullable<Timestamp>,
        done_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    health_holds (id) {
        id -> Text,
        member_id -> Text,
        plant_id -> Nullable<Text>,
        reason -> Text,
        placed_by -> Text,
        placed_at -> Timestamp,
        lifted_by -> Nullable<Text>,
        lifted_at -> Nullable<Timestamp>,
        lift_note -> Nullable<Text>,
    }
}

diesel::table! {
    propagation_permissions (cultivar_id) {
        cultivar_id -> Text,
        words -> Text,
        until_on -> Nullable<Date>,
        recorded_by -> Text,
        recorded_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    conservation_list (cultivar_id) {
        cultivar_id -> Text,
        reason -> Text,
        wanted_holders -> Integer,
        listed_by -> Text,
        listed_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    crosses (id) {
        id -> Text,
        raiser_id -> Text,
        number -> Text,
        seed_gamete -> Nullable<Text>,
        pollen_gamete -> Nullable<Text>,
        visibility -> Text,
        pooled -> Bool,
        notes -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    seedlings (id) {
        id -> Text,
        cross_id -> Text,
        number -> Integer,
        status -> Text,
        cultivar_id -> Nullable<Text>,
        notes -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    cross_parents (cross_id, side, place) {
        cross_id -> Text,
        side -> Text,
        place -> Integer,
        cultivar_id -> Nullable<Text>,
        seedling_id -> Nullable<Text>,
        plant_id -> Nullable<Text>,
        share -> Integer,
    }
}

diesel::table! {
    pollinations (id) {
        id -> Text,
        cross_id -> Text,
        day -> Date,
        florets -> Integer,
        petals_removed -> Nullable<Bool>,
        seed_bloom -> Nullable<Text>,
        pollen_bloom -> Nullable<Text>,
        worked_by -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    cross_counts (id) {
        id -> Text,
        cross_id -> Text,
        day -> Date,
        kind -> Text,
        how_many -> Integer,
        cause -> Nullable<Text>,
        created_at -> Timestamp,
    }
}

diesel::table! {
    registrations (id) {
        id -> Text,
        cultivar_id -> Text,
        proposed_by -> Text,
        name -> Text,
        name_key -> Text,
        published_on -> Nullable<Date>,
        state -> Text,
        findings -> Text,
        registration_no -> Nullable<Integer>,
        registered_on -> Nullable<Date>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    registration_steps (id) {
        id -> Text,
        registration_id -> Text,
        kind -> Text,
        taken_by -> Text,
        name -> Text,
        findings -> Text,
        reason -> Nullable<Text>,
        created_at -> Timestamp,
    }
}

diesel::table! {
    reversion_reports (member_id, cultivar_id, year) {
        member_id -> Text,
        cultivar_id -> Text,
        year -> Integer,
        plants -> Integer,
        reverted -> Integer,
        went_back_to_id -> Nullable<Text>,
        went_back_to -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    cultivar_names (id) {
        id -> Text,
        cultivar_id -> Text,
        name -> Text,
        name_key -> Text,
        kind -> Text,
        note -> Nullable<Text>,
        entered_by -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    cultivar_history (cultivar_id, version) {
        cultivar_id -> Text,
        version -> Integer,
        record -> Text,
        changed_by -> Text,
        changed_at -> Timestamp,
        why -> Nullable<Text>,
    }
}

diesel::table! {
    shows (id) {
        id -> Text,
        club_id -> Text,
        name -> Text,
        held_on -> Date,
        place -> Text,
        closes_wall -> Text,
        zone -> Text,
        closes_at -> Timestamp,
        opens_at -> Nullable<Timestamp>,
        hall_opens_at -> Nullable<Timestamp>,
        state -> Text,
        published_at -> Nullable<Timestamp>,
        draft -> Text,
        schedule_number -> Integer,
        secret -> Nullable<Text>,
        notes -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    show_versions (show_id, number) {
        show_id -> Text,
        number -> Integer,
        document -> Text,
        sha256 -> Text,
        reason -> Nullable<Text>,
        changes -> Text,
        published_by -> Text,
        published_at -> Timestamp,
    }
}

diesel::table! {
    show_officials (id) {
        id -> Text,
        show_id -> Text,
        role -> Text,
        member_id -> Nullable<Text>,
        name -> Text,
        classes -> Text,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    show_exhibitors (id) {
        id -> Text,
        show_id -> Text,
        number -> Integer,
        member_id -> Nullable<Text>,
        name -> Text,
        is_joint -> Bool,
        in_the_trade -> Bool,
        household -> Nullable<Text>,
        born_on -> Nullable<Date>,
        publish_as -> Text,
        outside_declared -> Bool,
        outside_results -> Text,
        version -> Integer,
        created_at -> Timestamp,
        is_protected -> Bool,
    }
}

diesel::table! {
    show_entries (id) {
        id -> Text,
        show_id -> Text,
        class_id -> Text,
        exhibitor_id -> Text,
        serial -> Integer,
        number -> BigInt,
        label -> Nullable<Text>,
        items -> Text,
        state -> Text,
        fee_pence -> BigInt,
        acknowledged -> Text,
        entered_by -> Text,
        late_reason -> Nullable<Text>,
        moved_from_class_id -> Nullable<Text>,
        moved_reason -> Nullable<Text>,
        checked_in_at -> Nullable<Timestamp>,
        staged_at -> Nullable<Timestamp>,
        measured -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    show_events (id) {
        id -> Text,
        show_id -> Text,
        at -> Timestamp,
        by_id -> Nullable<Text>,
        kind -> Text,
        subject_id -> Nullable<Text>,
        words -> Text,
    }
}

diesel::table! {
    show_receipts (id) {
        id -> Text,
        show_id -> Text,
        exhibitor_id -> Text,
        number -> Integer,
        pence -> BigInt,
        how -> Text,
        note -> Nullable<Text>,
        received_by -> Text,
        received_at -> Timestamp,
    }
}

diesel::table! {
    show_judgments (show_id, class_id, version) {
        show_id -> Text,
        class_id -> Text,
        version -> Integer,
        document -> Text,
        remark -> Nullable<Text>,
        reason -> Nullable<Text>,
        judge -> Text,
        signed_off -> Bool,
        entered_by -> Text,
        entered_at -> Timestamp,
    }
}

diesel::table! {
    show_choices (show_id, trophy_key, version) {
        show_id -> Text,
        trophy_key -> Text,
        version -> Integer,
        document -> Text,
        judge -> Text,
        entered_by -> Text,
        entered_at -> Timestamp,
    }
}

diesel::table! {
    show_protests (id) {
        id -> Text,
        show_id -> Text,
        class_id -> Nullable<Text>,
        raised_by -> Text,
        raised_at -> Timestamp,
        words -> Text,
        deposit_pence -> BigInt,
        state -> Text,
        sat -> Nullable<Text>,
        outcome -> Nullable<Text>,
        deposit_returned -> Nullable<Bool>,
        decided_at -> Nullable<Timestamp>,
        version -> Integer,
    }
}

diesel::table! {
    show_results (show_id, number) {
        show_id -> Text,
        number -> Integer,
        state -> Text,
        document -> Text,
        sha256 -> Text,
        schedule_number -> Integer,
        reason -> Nullable<Text>,
        given_by -> Text,
        given_at -> Timestamp,
    }
}

diesel::table! {
    member_results (id) {
        id -> Text,
        member_id -> Text,
        show_id -> Text,
        held_on -> Date,
        document -> Text,
    }
}

diesel::table! {
    trophies (id) {
        id -> Text,
        club_id -> Text,
        trophy_key -> Text,
        title -> Text,
        notes -> Nullable<Text>,
        version -> Integer,
        created_at -> Timestamp,
    }
}

diesel::table! {
    trophy_awards (id) {
        id -> Text,
        trophy_id -> Text,
        show_id -> Nullable<Text>,
        year -> Integer,
        member_id -> Nullable<Text>,
        name -> Text,
        handed_over_on -> Nullable<Date>,
        due_back_on -> Nullable<Date>,
        returned_on -> Nullable<Date>,
        version -> Integer,
        created_at -> Timestamp,
        exhibitor_id -> Nullable<Text>,
    }
}

diesel::table! {
    calendar_feeds (member_id) {
        member_id -> Text,
        secret_sha256 -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    account_codes (code_sha256) {
        code_sha256 -> Text,
        member_id -> Text,
        issued_by -> Text,
        issued_at -> Timestamp,
        expires_at -> Timestamp,
        used_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    society_log (id) {
        id -> Text,
        at -> Timestamp,
        by_id -> Nullable<Text>,
        from_address -> Nullable<Text>,
        act -> Text,
        about_id -> Nullable<Text>,
        club_id -> Nullable<Text>,
        words -> Text,
    }
}

diesel::joinable!(society_roles -> members (member_id));
diesel::joinable!(club_members -> members (member_id));
diesel::joinable!(club_members -> clubs (club_id));
diesel::joinable!(sessions -> members (member_id));
diesel::joinable!(join_attempts -> members (member_id));
diesel::joinable!(stations -> regions (region_id));
diesel::joinable!(readings -> stations (station_id));
diesel::joinable!(plants -> cultivars (cultivar_id));
diesel::joinable!(plants -> members (owner_id));
diesel::joinable!(plants -> regions (region_id));
diesel::joinable!(diary_entries -> plants (plant_id));
diesel::joinable!(swap_offers -> cultivars (cultivar_id));
diesel::joinable!(swap_offers -> members (member_id));
diesel::joinable!(swap_wants -> cultivars (cultivar_id));
diesel::joinable!(swap_wants -> members (member_id));
diesel::joinable!(swap_want_choices -> swap_wants (want_id));
diesel::joinable!(swap_want_choices -> cultivars (cultivar_id));
diesel::joinable!(health_holds -> plants (plant_id));
diesel::joinable!(propagation_permissions -> cultivars (cultivar_id));
diesel::joinable!(conservation_list -> cultivars (cultivar_id));
diesel::joinable!(swap_rings -> swap_rounds (round_id));
diesel::joinable!(swap_parties -> swap_rings (ring_id));
diesel::joinable!(swap_parties -> members (member_id));
diesel::joinable!(swap_hand_overs -> swap_rings (ring_id));
diesel::joinable!(swap_attendances -> members (member_id));
diesel::joinable!(swap_events -> members (member_id));
diesel::joinable!(swap_hand_overs -> cultivars (cultivar_id));
diesel::joinable!(shows -> clubs (club_id));
diesel::joinable!(show_entries -> show_exhibitors (exhibitor_id));
diesel::joinable!(show_exhibitors -> shows (show_id));
diesel::joinable!(trophy_awards -> trophies (trophy_id));
diesel::joinable!(backtests -> fits (fit_id));
diesel::joinable!(weather_sources -> stations (station_id));
diesel::joinable!(inside_readings -> members (member_id));
diesel::joinable!(inside_readings -> regions (region_id));
diesel::joinable!(registrations -> cultivars (cultivar_id));
diesel::joinable!(registrations -> members (proposed_by));
diesel::joinable!(registration_steps -> members (taken_by));
diesel::joinable!(cultivar_history -> members (changed_by));

diesel::allow_tables_to_appear_in_same_query!(
    show_versions,
    show_officials,
    show_exhibitors,
    show_entries,
    show_events,
    show_receipts,
    show_judgments,
    show_choices,
    show_protests,
    show_results,
    member_results,
    trophies,
    trophy_awards,
    cultivar_candidates,
    pedigree_state,
    pedigree_changes,
    server_settings,
    regions,
    clubs,
    members,
    society_roles,
    club_members,
    club_shares,
    club_invitations,
    invitations,
    sessions,
    refresh_tokens,
    login_attempts,
    join_attempts,
    idempotency_keys,
    stations,
    readings,
    cultivars,
    plants,
    diary_entries,
    swap_offers,
    swap_wants,
    swap_want_choices,
    swap_terms,
    swap_refusals,
    swap_rounds,
    swap_rings,
    swap_parties,
    swap_hand_overs,
    swap_attendances,
    swap_events,
    shows,
    jobs,
    job_askers,
    fits,
    backtests,
    weather_sources,
    inside_readings,
    notices,
    health_holds,
    propagation_permissions,
    conservation_list,
    crosses,
    seedlings,
    cross_parents,
    pollinations,
    cross_counts,
    registrations,
    registration_steps,
    reversion_reports,
    cultivar_names,
    cultivar_history,
);
