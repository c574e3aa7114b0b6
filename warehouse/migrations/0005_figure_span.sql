-- A figure or a gate that stays as it is from edition to edition is kept once, with the
-- numbers of the first and the last of these; 2147483647: it still stands. Editions are
-- numbered as they come; of one minute, ...-9 before ...-10.
alter table edition add column edition_no integer;
update edition set edition_no = n from (select edition_id as id, row_number() over (order by at, length(edition_id), edition_id)::integer as n from edition) where edition_id = id;

create table figure_span (
    session_id varchar not null,
    figure varchar not null,
    value double,
    uncertainty double,
    from_s double,
    to_s double,
    status varchar not null,
    note varchar,
    basis varchar not null,     -- hash of all that the value depends on
    first_no integer not null,
    last_no integer not null
);

create table gate_span (
    session_id varchar not null,
    gate varchar not null,
    verdict varchar not null,
    reason varchar not null,
    first_no integer not null,
    last_no integer not null
);

insert into figure_span
select session_id, figure, value, uncertainty, from_s, to_s, status, note, basis, edition_no, if(edition_no = (select max(edition_no) from edition), 2147483647, edition_no)
from figure join edition using (edition_id) order by edition_no, session_id, figure;

insert into gate_span
select session_id, gate, verdict, reason, edition_no, if(edition_no = (select max(edition_no) from edition), 2147483647, edition_no)
from gate join edition using (edition_id) order by edition_no, session_id, gate;

drop table figure;
drop table gate;

-- For whoever opens this file itself.
create view figure as
select edition_id, session_id, figure, value, uncertainty, from_s, to_s, status, note, basis
from figure_span join edition on edition_no between first_no and last_no;

create view gate as
select edition_id, session_id, gate, verdict, reason
from gate_span join edition on edition_no between first_no and last_no;
