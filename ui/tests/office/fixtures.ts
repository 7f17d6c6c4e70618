import type { OfficeDevice } from '../../src/generated/OfficeDevice';
import type { OfficeJob } from '../../src/generated/OfficeJob';
import type { OfficeRecord } from '../../src/generated/OfficeRecord';
import type { OfficeSecond } from '../../src/generated/OfficeSecond';
import type { OfficeSession } from '../../src/generated/OfficeSession';
import type { Role } from '../../src/generated/Role';
import type { Answer, Door, Sent, Why } from '../../src/office/door';

/** What the page asked, and what a made-up hub answers. Used by tests only. */
export class FixtureHub {
  asked: { path: string; method: string; body: unknown; csrf: string | undefined }[] = [];
  answers = new Map<string, unknown>();
  refuses = new Map<string, Why>();

  /** Answers asks whose method and path begin like this; the newest first. */
  on(begin: string, answer: unknown): this {
    this.answers.set(begin, answer);
    return this;
  }

  refuse(begin: string, why: Why): this {
    this.refuses.set(begin, why);
    return this;
  }

  get changes() {
    return this.asked.filter(({ method }) => method !== 'GET');
  }

  door: Door = async <T>(path: string, { method = 'GET', body, csrf }: Sent = {}): Promise<Answer<T>> => {
    this.asked.push({ path, method, body, csrf });
    const key = `${method} ${path}`;
    for (const [begin, why] of this.refuses) if (key.startsWith(begin)) return { got: null, why, mistakes: [] };
    const found = [...this.answers].reverse().find(([begin]) => key.startsWith(begin));
    return { got: (found?.[1] ?? null) as T, why: null };
  };
}

export function signedIn(role: Role): OfficeSession {
  const person = { person: '00000000-0000-4000-8000-000000000001', name: 'Toma Quell', role, csrf: 'c-s-r-f' };
  return { shop: 'Lötauge & Sohn', set_up: true, person };
}

export const none = { photos: 0, samples: 0, details: 0, people: 0 };

export function device(name: string, more: Partial<OfficeDevice> = {}): OfficeDevice {
  return {
    device: `00000000-0000-4000-8000-${name.length.toString().padStart(12, '0')}`,
    name,
    fingerprint: '0a1b-2c3d-4e5f-6071-8293-a4b5-c6d7-e8f9',
    paired: '2026-11-20T08:00:00Z',
    seen: '2026-11-26T14:02:00Z',
    stored_through: 418,
    missing: none,
    revoked: null,
    parted_at: null,
    ...more,
  };
}

export const JOB = '11111111-2222-4333-8444-555555555555';

export function job(more: Partial<OfficeJob> = {}): OfficeJob {
  const line = {
    job: JOB,
    order: 'W-2041',
    vehicle: 'Orrin 3 …004711',
    customer: 'Anna Beispiel',
    opened: '2026-11-26T10:42:00Z',
    stage: 'done' as const,
    verdict: 'fail' as const,
    words: 'Closed. Conductor 4 condemns the part.',
    can_compare: true,
    candidate: 'Candidate for W-2041',
  };
  return { line, verdict: 'fail', open: [], erased: false, devices: ['Bench 2'], versions: 1, ...more } as OfficeJob;
}

/** A step that waits for a second person. */
export function second(more: Partial<OfficeSecond> = {}): OfficeSecond {
  return {
    waits: {
      step: 'candidate',
      doing: 14,
      title: 'Choose the part',
      why: 'A used restraint part.',
      done: 'OR3-1187, used, from: breaker’s yard',
      by: 'Jakob Specht',
      at: '2026-11-26 14:02',
      photos: [{ photo: 'cd'.repeat(32), caption: 'Choose the part, 14:01', width: 4, height: 3, missing: 'Not here.' }],
    },
    given: null,
    refused: null,
    ...more,
  };
}

/** A record with a table, a photo and a text that would be markup if it were taken for one. */
export function record(more: Partial<OfficeRecord> = {}): OfficeRecord {
  const report = {
    language: 'en' as const,
    title: 'Job report',
    order: 'W-2041',
    vehicle: 'Orrin 3 …004711',
    printed: '2026-11-26T15:00:00Z',
    notice: [],
    head: [{ label: 'Customer', value: '<img src=x onerror=alert(1)>' }],
    summary: [
      {
        title: 'Result',
        blocks: [
          { block: 'headline' as const, of: 'Conductor 4 is high. The part is condemned.' },
          {
            block: 'table' as const,
            of: {
              caption: 'Conductors',
              columns: [{ title: 'Conductor', figures: false }, { title: 'Ω', figures: true }],
              rows: [{ cells: ['4', '11.98'], struck: false }],
            },
          },
        ],
      },
    ],
    details: [
      {
        title: 'Photos',
        blocks: [
          { block: 'photo' as const, of: { photo: 'ab'.repeat(32), caption: 'Plug', width: 4, height: 3, missing: 'Not here.' } },
        ],
      },
    ],
    page_words: { page_of: 'Page {} of {}', details: 'Details', logo: 'Logo' },
  };
  const version = { device: device('Bench 2').device, name: 'Bench 2', entries: 41, common: 41, seconds: [], report };
  return { job: JOB, erased: false, erasable: true, versions: [version], ...more };
}
