import type { Details } from '../generated/Details';

const empty = { order: '', vehicle: '' };
/** Nothing said about anybody. */
export const nobody: Details = { customer: '', phone: '', plate: '', vin: '', odometer: '', technician: '', complaint: '' };

/** The fields of what is personal, in their order. */
export const personal = ['customer', 'phone', 'plate', 'vin', 'odometer', 'technician', 'complaint'] as const;

/**
 * What has been typed about a job that is not open yet. It outlives the screen, so that going back to the list
 * loses nothing; it is not kept on the device, because it names people.
 */
class Draft {
  job = $state({ ...empty });
  details: Details = $state({ ...nobody });

  clear() {
    this.job = { ...empty };
    this.details = { ...nobody };
  }
}

export const draft = new Draft();
