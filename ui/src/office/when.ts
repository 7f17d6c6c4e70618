import { moment } from '../frame/moment';
import type { Language } from '../generated/Language';

const locale = (language: Language) => (language === 'de' ? 'de-DE' : 'en-GB');

/** A moment, short where it is on the day of `at`: "14:02", else "24 Nov, 14:02". */
export function when(stamp: string, at: string, language: Language): string {
  const [one, other] = [new Date(stamp), new Date(at)];
  if (Number.isNaN(one.getTime()) || one.toDateString() !== other.toDateString()) return moment(stamp, language);
  return one.toLocaleTimeString(locale(language), { hour: '2-digit', minute: '2-digit' });
}

/** "Thursday 26 November" of "2026-11-26", whatever zone the page is in. */
export function dayWords(day: string, language: Language): string {
  const at = new Date(`${day}T12:00:00Z`);
  if (Number.isNaN(at.getTime())) return day;
  return at.toLocaleDateString(locale(language), { weekday: 'long', day: 'numeric', month: 'long', timeZone: 'UTC' });
}

/** Whether two stamps are of one day on this machine's clock. */
export const sameDay = (one: string, other: string) => new Date(one).toDateString() === new Date(other).toDateString();
