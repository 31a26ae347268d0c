// The catalogue in use. A second language is a second object of type Words.
import { en, type Words } from './en';

export const words: Words = en;
