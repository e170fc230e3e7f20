create table meta(key text primary key, value text not null) without rowid;
create table operation(
  seq integer primary key,
  id text not null unique,
  who text not null,
  entered text not null,
  effective text,
  why text not null,
  origin text,
  undoes text,
  changes integer not null,
  digest text not null);
create table record(
  rec integer primary key,
  rid text not null unique,
  kind integer not null,
  name text not null,
  home text,
  op integer not null references operation(seq) deferrable initially deferred,
  gone integer not null default 0,
  body text not null);
create index record_kind on record(kind, name) where gone = 0;
create index record_home on record(home, kind) where gone = 0;
create table change(
  op integer not null,
  n integer not null,
  rec integer not null references record(rec) deferrable initially deferred,
  what integer not null,
  field text,
  old text,
  new text,
  primary key(op, n)) without rowid;
create index change_rec on change(rec);
create table past(
  rec integer not null,
  since integer not null,
  until integer not null,
  body text not null,
  primary key(rec, since)) without rowid;
create table name(
  folded text not null,
  rank integer not null,
  kind integer not null,
  rec integer not null,
  text text not null,
  primary key(folded, rank, rec, text)) without rowid;
create index name_rec on name(rec);
create table link(
  rel integer not null,
  target text not null,
  rec integer not null,
  primary key(rel, target, rec)) without rowid;
create index link_rec on link(rec);
create table word(id integer primary key, text text not null unique);
create table posting(word integer not null, rec integer not null, primary key(word, rec)) without rowid;
create index posting_rec on posting(rec);
