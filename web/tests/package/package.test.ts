// Packages are opened by programs that know nothing of ours: the Frictionless
// project's library, a reader of netCDF, xmllint. The packages are made afresh by a
// Go test (core/dossier, data_test.go): a small one, one whose texts are hostile, and
// one of a study of which next to nothing was recorded.
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Package } from 'datapackage';
import { NetCDFReader } from 'netcdfjs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const root = fileURLToPath(new URL('../../../', import.meta.url));
const made = mkdtempSync(join(tmpdir(), 'packages-'));
const kinds = ['small', 'hostile', 'bare'] as const;

beforeAll(() => {
  execFileSync('go', ['test', '-count=1', '-run', 'TestPackageForOtherReaders', './core/dossier'], {
    cwd: root,
    env: { ...process.env, BRINEFIELD_PACKAGE_TO: made },
  });
}, 180_000);

afterAll(() => rmSync(made, { recursive: true, force: true }));

const file = (kind: string, name: string) => readFileSync(join(made, kind, name));
const loaded = new Map<string, Promise<Package>>();
const open = (kind: string) => {
  const pack = loaded.get(kind) ?? load(kind);
  loaded.set(kind, pack);
  return pack;
};
const load = (kind: string) =>
  Package.load(join(made, kind, 'datapackage.json'), { basePath: join(made, kind), strict: false });

describe.each(kinds)('the %s package', (kind) => {
  it('is a valid Frictionless Data Package, and every row keeps its schema', async () => {
    const pack = await open(kind);
    expect(pack.errors).toEqual([]);
    expect(pack.valid).toBe(true);
    let tables = 0;
    for (const resource of pack.resources) {
      expect(resource.errors, resource.name).toEqual([]);
      if (!resource.tabular) continue;
      tables++;
      const rows = await resource.read({ keyed: true, relations: true });
      const lines = file(kind, resource.descriptor.path).toString().length;
      expect(rows.length > 0 || lines > 0, resource.name).toBe(true);
    }
    expect(tables).toBeGreaterThan(12);
  });

  it('states the bytes and the SHA-256 of every resource', async () => {
    for (const { descriptor } of (await open(kind)).resources) {
      if (descriptor.path === 'report/report.pdf') continue; // no two prints are alike
      const bytes = file(kind, descriptor.path);
      expect(descriptor.bytes, descriptor.path).toBe(bytes.length);
      const sum = createHash('sha256').update(bytes).digest('hex');
      expect(descriptor.hash, descriptor.path).toBe(`sha256:${sum}`);
    }
  });

  // Our own reading of both standards, as schemas: see the first lines of each.
  it('holds EML and meta.xml in the order of elements that their standards ask for', () => {
    for (const [schema, name] of [
      ['eml-own-reading.xsd', 'eml.xml'],
      ['darwin-text-own-reading.xsd', 'meta.xml'],
    ] as const) {
      const at = join(root, 'core/dossier/testdata', schema);
      execFileSync('xmllint', ['--noout', '--schema', at, join(made, kind, 'darwin-core', name)], {
        stdio: 'pipe',
      });
    }
  });

  it('has identifiers of meta.xml that name the columns of the tables', () => {
    const meta = file(kind, 'darwin-core/meta.xml').toString();
    const parts = meta.split(/<(?:core|extension) /).slice(1);
    expect(parts).toHaveLength(3);
    for (const part of parts) {
      const name = /<location>([^<]+)</.exec(part)?.[1] ?? '';
      const header = (file(kind, `darwin-core/${name}`).toString().split('\n')[0] ?? '').split(',');
      const terms = [...part.matchAll(/<field index="(\d+)" term="([^"]+)"/g)];
      expect(terms.map((t) => t[2]?.split('/').at(-1))).toEqual(header);
      expect(terms.map((t) => Number(t[1]))).toEqual(header.map((_, i) => i));
    }
  });
});

it('says the unit of every column that has one, and links passes to trials', async () => {
  const pack = await open('small');
  const passes = pack.getResource('tables-passes');
  const low = passes?.descriptor.schema?.fields.find((f) => f.name === 'field_low_nV_per_cm');
  expect(low).toMatchObject({ type: 'number', unit: 'nV/cm' });
  expect(low?.description).toContain('Unit: nV/cm.');
  expect(passes?.descriptor.schema).toMatchObject({
    primaryKey: ['pass'],
    foreignKeys: expect.arrayContaining([
      { fields: ['trial'], reference: { resource: 'tables-trials', fields: ['trial'] } },
    ]),
  });
});

// A validator that lets everything through would prove nothing.
it('is refused when a pass names a trial that is not there, and when a type is wrong', async () => {
  const at = join(made, 'small', 'tables/passes.csv');
  const before = readFileSync(at, 'utf8');
  try {
    writeFileSync(at, before.replace('\nP1,T1,', '\nP1,T99,'));
    const links = (await load('small')).getResource('tables-passes');
    await expect(links?.read({ keyed: true, relations: true })).rejects.toThrow(/foreign key/i);
    writeFileSync(at, before.replace('\nP3,T3,', '\nP3,T3,not a time'));
    const types = (await load('small')).getResource('tables-passes');
    await expect(types?.read({ keyed: true, relations: false })).rejects.toThrow();
  } finally {
    writeFileSync(at, before);
  }
});

it('refuses EML whose elements are out of order', () => {
  const text = file('small', 'darwin-core/eml.xml').toString();
  const at = join(made, 'wrong.xml');
  writeFileSync(at, text.replace(/(<title>.*?<\/title>)([\s\S]*?)(<pubDate>.*?<\/pubDate>)/, '$3$2$1'));
  const schema = join(root, 'core/dossier/testdata/eml-own-reading.xsd');
  expect(() => execFileSync('xmllint', ['--noout', '--schema', schema, at], { stdio: 'pipe' })).toThrow();
});

// Climate and Forecast conventions 1.11: names, units and the ragged array of profiles.
it('holds casts that a reader of netCDF reads back', () => {
  const casts = new NetCDFReader(file('small', 'casts/casts.nc'));
  expect(casts.version).toBe('classic format');
  expect(casts.dimensions).toEqual([
    { name: 'profile', size: 2 },
    { name: 'obs', size: 3 },
  ]);
  const attribute = (name: string) => casts.globalAttributes.find((a) => a.name === name)?.value;
  expect(attribute('Conventions')).toBe('CF-1.11');
  expect(attribute('featureType')).toBe('profile');
  const of = (name: string) => {
    const found = casts.variables.find((v) => v.name === name);
    return Object.fromEntries(
      ((found?.attributes ?? []) as { name: string; value: unknown }[]).map((a) => [a.name, a.value]),
    );
  };
  expect(of('temperature')).toMatchObject({ standard_name: 'sea_water_temperature', units: 'degree_Celsius' });
  expect(of('salinity')).toMatchObject({ standard_name: 'sea_water_practical_salinity', units: '1' });
  expect(of('conductivity')).toMatchObject({ standard_name: 'sea_water_electrical_conductivity', units: 'S m-1' });
  expect(of('depth')).toMatchObject({ standard_name: 'depth', units: 'm', positive: 'down' });
  expect(of('row_size')).toMatchObject({ sample_dimension: 'obs' });
  const fill = 9.969209968386869e36;
  expect(of('temperature')._FillValue).toBe(fill);
  // The rows of smallSeason's water.csv; 08:00 in Dublin's summer is 07:00 UTC.
  expect(casts.getDataVariable('row_size')).toEqual([2, 1]);
  expect(casts.getDataVariable('time')).toEqual([Date.UTC(2025, 6, 1, 7) / 1000, Date.UTC(2025, 6, 2, 7) / 1000]);
  expect(casts.getDataVariable('depth')).toEqual([0, 4, 2]);
  expect(casts.getDataVariable('temperature')).toEqual([15.5, 14.9, fill]);
  expect(casts.getDataVariable('salinity')).toEqual([34.2, 34.5, fill]);
  expect(casts.getDataVariable('conductivity')).toEqual([fill, fill, 4.25]);
  expect(casts.getDataVariable('latitude')).toEqual([52.1234, 52.1234]);
});
