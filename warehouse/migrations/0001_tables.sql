-- No primary keys: DuckDB 1.1 refuses to insert a key that the same transaction
-- deleted, and replacing a session is just that. The loader deletes first.
--
-- One row of reading is one record of one source. A channel that the source
-- does not have is NULL there; the channels' columns come from the catalogue
-- and are added when the warehouse is opened.

create table vehicle (
    vehicle_id varchar not null,
    name varchar not null,
    usable_kwh double,
    pack_mass_kg double,
    rated_wh_km double,
    peak_charge_kw double,
    heater varchar,
    remark varchar,
    sha256 varchar not null
);

-- The protocol's numbers, one column each, are added when it is written.
create table protocol (title varchar, place varchar);

create table session (
    session_id varchar not null,
    vehicle_id varchar not null,
    procedure varchar not null,
    zone varchar,
    soak_start timestamptz,
    zero timestamptz,       -- plug-in, or start: t_s = 0
    zero_u_s double,        -- its standard uncertainty
    zero_from varchar,      -- where it was found
    charger varchar,
    charger_kw double,
    tester varchar,
    remark varchar,
    problem varchar,        -- why nothing was read, or NULL
    sha256 varchar          -- of session.toml
);

create table source (
    source_id varchar not null,  -- session_id/file
    session_id varchar not null,
    path varchar not null,
    kind varchar not null,
    profile varchar,
    sha256 varchar not null,
    bytes bigint not null,
    rows_read bigint not null,
    rows_kept bigint not null,
    rows_aside bigint not null,
    offset_s double not null,       -- added to the source's clock
    offset_u_s double not null,
    settings varchar not null,      -- hash of all that decides how it is read
    check (rows_read = rows_kept + rows_aside)
);

create table instrument (
    session_id varchar not null,
    source_id varchar not null,
    channel varchar not null,
    column_name varchar,
    unit varchar,
    resolution double,  -- in the channel's unit; NULL: not known
    u_rel double not null,
    u_abs double not null
);

create table reading (
    session_id varchar not null,
    source_id varchar not null,
    line bigint not null,
    t_s double,             -- from the session's zero; NULL without one
    at timestamptz not null
);

create table event (
    session_id varchar not null,
    source_id varchar not null,
    line bigint not null,
    t_s double,             -- middle of the interval
    at timestamptz not null,
    width_s double not null,
    kind varchar not null,
    text varchar
);

create table set_aside (
    session_id varchar not null,
    source_id varchar not null,
    line bigint not null,
    col integer,
    raw varchar,
    reason varchar not null,
    hint varchar
);

create table edition (
    edition_id varchar not null,
    at timestamptz not null,
    program varchar not null,
    inputs varchar not null     -- hash of all inputs
);

create table figure (
    edition_id varchar not null,
    session_id varchar not null,
    figure varchar not null,
    value double,
    uncertainty double,
    from_s double,
    to_s double,
    status varchar not null,
    note varchar,
    basis varchar not null      -- hash of all that the value depends on
);

create table gate (
    edition_id varchar not null,
    session_id varchar not null,
    gate varchar not null,
    verdict varchar not null,
    reason varchar not null
);

create table standing (
    edition_id varchar not null,
    vehicle_id varchar not null,
    place integer,              -- shared rank; NULL: not ranked
    lowest integer,
    highest integer,
    score double,
    uncertainty double,
    reason varchar
);
