import type { StepEntry } from '../../generated/StepEntry';
import type { StepFields } from '../../generated/StepFields';
import type { Wrong } from '../wrong';

/** What a component is given that takes what is entered at a step of one kind. */
export type FieldProps<K extends StepFields['kind']> = {
  fields: Extract<StepFields, { kind: K }>;
  /** What is entered so far; it outlives the component. */
  entry: StepEntry | null;
  wrong: Wrong | null;
  /** It is begun: it can be typed. */
  may: boolean;
};

/** What was entered before, if it is of this kind. */
export function typedBefore<E extends StepEntry['entry']>(entry: StepEntry | null, kind: E): Extract<StepEntry, { entry: E }> | null {
  return entry?.entry === kind ? (entry as Extract<StepEntry, { entry: E }>) : null;
}
