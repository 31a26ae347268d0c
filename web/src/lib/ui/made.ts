// What made the findings, handed down to every explanation of them.
import { getContext, setContext } from 'svelte';
import type { Findings } from '$lib/api/types';

const key = Symbol('made');
type Made = Pick<Findings, 'program' | 'seed' | 'inputs_sha256'>;

export const provideMade = (read: () => Made | undefined): void => void setContext(key, read);
export const useMade = (): Made | undefined => getContext<(() => Made | undefined) | undefined>(key)?.();
