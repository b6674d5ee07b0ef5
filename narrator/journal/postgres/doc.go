// Package postgres keeps the history of whole shops in PostgreSQL, 15 or newer: what their bays send, what they share, and which bay has a job. Many shops live in
// one database, and none sees another.
//
// # Who may do what
//
// Each bay, each server of pages and each owner has a login role of its own. The roles' names tell nothing, as everybody who may log in can list them.
//
// A bay may call functions, those that migrations/00003_bays.sql and the files after it grant, and holds no right on any table. So the list of functions is all
// that a stolen bay can do; a new table or column is closed to bays until somebody opens it; and one call is one transaction and one way there and back, so that a
// batch and its mark cannot part. The functions have a fixed search path and learn who asks from the role that logged in, never from an argument or a setting.
//
// Pages and owners may read tables. Under both lies row-level security by shop, forced on every table: it binds the functions too, as the role that owns them,
// stepcaller_keeper, is no superuser. A mistake in a function can therefore show one bay another bay's rows, but not another shop's.
//
// The administrator, who migrates and adds shops and bays, is a superuser, or may create roles and owns the database.
//
// What this does not keep out: a bay's credentials can waste its own shop's time, by holding a transaction open, and can keep others from making a month's partition
// while they do. The administrator sees it in pg_stat_activity and revokes the bay.
//
// # Many shops
//
// All keys of what grows begin with the shop, and no statement joins the rows of two. So shops can be put into several databases, on several servers: a bay's address
// leads to its own. Within a database, event is partitioned by the month in which its job began, so that an old year can be moved to other disks or detached whole.
//
// # Invariants
//
//  1. An event must be kept byte for byte as the bay wrote it, once, and never be changed.
//  2. Marks must rise, within a shop, in the order in which events are committed: whoever has read up to a mark misses nothing before it.
//  3. The mark up to which a bay's journal has arrived must move in the transaction that stores the events.
//  4. A job must have one owner, that of its highest term. Stories must never be merged: what a bay wrote after others took over from it stays under its own term.
//  5. A job's row must follow from its events and terms. It decides nothing but the partition in which its events lie.
package postgres
