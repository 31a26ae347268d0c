// The part of the Frictionless library that the tests use; it ships no types.
declare module 'datapackage' {
  export interface Resource {
    readonly name: string;
    readonly valid: boolean;
    readonly errors: Error[];
    readonly tabular: boolean;
    readonly descriptor: { path: string; hash?: string; bytes?: number; schema?: { fields: Field[] } };
    read(options: { keyed: true; relations: boolean }): Promise<Record<string, unknown>[]>;
  }
  export interface Field {
    name: string;
    type: string;
    unit?: string;
    description: string;
  }
  export class Package {
    static load(descriptor: string | object, options: { basePath: string; strict: boolean }): Promise<Package>;
    readonly valid: boolean;
    readonly errors: Error[];
    readonly resources: Resource[];
    readonly descriptor: Record<string, unknown>;
    getResource(name: string): Resource | null;
  }
}
