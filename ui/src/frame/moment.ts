import type { Language } from '../generated/Language';

/** A stamp for people, in the language and on this device's clock. What cannot be read is shown as it is. */
export function moment(stamp: string, language: Language): string {
  const at = new Date(stamp);
  if (Number.isNaN(at.getTime())) return stamp;
  const locale = language === 'de' ? 'de-DE' : 'en-GB';
  return at.toLocaleString(locale, { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' });
}
