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
create index operation_effective on operation(effective) where effective is not null;
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
create index record_home on record(home, kind, name) where gone = 0;
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
-- Distinct words of the descriptions, to complete a word that is being typed.
create table word(text text primary key) without rowid;
-- Words of each record's description; of what hangs on a structure the words
-- of its place as well.
create virtual table described using fts5(
  words, content='', contentless_delete=1, detail=none, tokenize='ascii');
-- Each record's folded names, every one ended by a dollar sign, in trigrams:
-- finds a name by its end or by a part.
create virtual table spelled using fts5(
  names, content='', contentless_delete=1, tokenize='trigram case_sensitive 1');
