-- In this database alone.
update sessions set end_reason = 'logged_out' where end_reason = 'too_many';
alter table sessions drop constraint sessions_end_reason_check;
alter table sessions add constraint sessions_end_reason_check
    check (end_reason in ('logged_out', 'logged_out_everywhere', 'password_changed', 'token_reused', 'suspended'));
-- In both again.

drop table join_attempts;
drop table login_attempts;
