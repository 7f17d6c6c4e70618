/** Where in the office one is. It stands in the address, so that the browser's way back works. */
export const places = ['today', 'jobs', 'devices', 'procedures', 'people', 'log'] as const;
/** Reached beside the name of whoever sits here, not in the row of places. */
const own = 'password';
export type Place = (typeof places)[number] | typeof own;

interface Spot {
  place: Place;
  /** The job whose record is open. */
  job: string | null;
  /** The secret of a set-up link. */
  setUp: string | null;
}

const JOB = /^#jobs\/([0-9a-f-]{36})$/;
const SET_UP = /^#setup=([\w-]{16,128})$/;

export function spot(hash: string): Spot {
  const job = JOB.exec(hash)?.[1] ?? null;
  const setUp = SET_UP.exec(hash)?.[1] ?? null;
  const place = job ? 'jobs' : (([...places, own] as const).find((name) => hash === `#${name}`) ?? 'today');
  return { place, job, setUp };
}

class Where {
  hash: string = $state('');

  get now(): Spot {
    return spot(this.hash);
  }

  go(place: Place, job: string | null = null) {
    location.hash = job ? `jobs/${job}` : place;
    this.hash = location.hash;
  }
}

export const where = new Where();
