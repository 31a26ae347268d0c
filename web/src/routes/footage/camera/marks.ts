/** markNumber names a mark over the picture as in the list. */
export const markNumber = (i: number): string => String(i + 1);
