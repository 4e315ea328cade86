// The device's own store: its id, its sequence and every event it made, in IndexedDB.
//
// The device id is made in the same transaction as the store and dies with it. An event's number, id and text are
// made in one transaction with strict durability; the text is never made again. Two tabs of one browser are one
// device: the sequence lies in the store, so that they never give one number twice.
import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import { uuid7 } from './id.ts';

/** waiting: not yet acknowledged. held: the ship has it. aside: refused or in conflict, kept here in sight. */
export type State = 'waiting' | 'held' | 'aside';

/** One event as it lies on the device. */
export interface Kept {
  device_seq: number;
  id: string;
  kind: string;
  /** The envelope's JSON, made once; these bytes go out at every try. */
  text: string;
  state: State;
  /** By the device's clock, for the screens only. */
  queued_at_ms: number;
  /** Ship's UTC at which the ship acknowledged it; null when only a played clock was known. */
  held_at_ms: number | null;
  /** Posts of this event alone that the ship could make nothing of. */
  bad_tries: number;
  reason: string | null;
  reason_code: string | null;
}

/** The device, and what the ship last said that it knows of it. */
export interface Device {
  key: 'me';
  device: string;
  next_seq: number;
  ship: ShipKnows | null;
}

/** What the ship knew when it was last asked. */
export interface ShipKnows {
  epoch: string;
  last_seq: number | null;
  hash: string | null;
}

interface Schema extends DBSchema {
  device: { key: string; value: Device };
  events: { key: number; value: Kept; indexes: { state: State } };
  lease: { key: string; value: { key: 'sender'; tab: string; until_ms: number } };
}

export type Database = IDBPDatabase<Schema>;

/** Opens the store; makes it, and the device with it, at the first visit. */
export function openStore(name = 'gangion'): Promise<Database> {
  return openDB<Schema>(name, 1, {
    upgrade(database, _from, _to, transaction) {
      database.createObjectStore('device', { keyPath: 'key' });
      database.createObjectStore('events', { keyPath: 'device_seq' }).createIndex('state', 'state');
      database.createObjectStore('lease', { keyPath: 'key' });
      void transaction.objectStore('device').add({ key: 'me', device: uuid7(Date.now()), next_seq: 1, ship: null });
    },
    blocking(_current, _wanted, event) {
      (event.target as IDBDatabase).close();
    },
  });
}

/** Strict: told as done only after the operating system was asked to write to disk. */
export const STRICT = { durability: 'strict' } as const;
