import { strict as assert } from "node:assert";
import createClient from "openapi-fetch";
import { FollowedKind, PartState, type components, type paths, type webhooks } from "./potmark.js";

const [address, key] = process.argv.slice(2);
const client = createClient<paths>({ baseUrl: address, headers: { Authorization: `Bearer ${key}` } });

// Order two parts, twice; the second answer is the first one's order.
const order: components["schemas"]["OrderIn"] = {
  reference: "TS-1",
  customer: "Harbour school",
  lines: [{ part_number: "HY-204", quantity: 2, serials: ["ts-1", "ts-2"] }],
};
const placed = await client.POST("/v1/orders", { body: order, params: { header: { "Idempotency-Key": "one" } } });
assert.equal(placed.response.status, 201, JSON.stringify(placed.error));
const again = await client.POST("/v1/orders", { body: order });
assert.equal(again.data?.already_there, true);
const number: number = placed.data!.order.id;

const parts = await client.GET("/v1/orders/{order}/parts", { params: { path: { order: number } } });
const codes: string[] = parts.data!.map((part) => part.code);
assert.deepEqual(parts.data!.map((part) => [part.state, part.serial]), [[PartState.planned, "ts-1"], [PartState.planned, "ts-2"]]);

const started = await client.POST("/v1/parts/{part}/start", { params: { path: { part: codes[0] } }, body: {} });
const state: PartState = started.data!.state;
assert.equal(state, PartState.laying);
assert.equal(started.data!.mould, null);

// The feed, an ETag and 304.
const rows = await client.GET("/v1/changes", { params: { query: { since: 0, kind: FollowedKind.order } } });
assert.ok(rows.data!.some((row) => row.order_id === number));
const read = await client.GET("/v1/parts/{part}", { params: { path: { part: codes[0] } } });
const same = await client.GET("/v1/parts/{part}", {
  params: { path: { part: codes[0] }, header: { "If-None-Match": read.response.headers.get("ETag")! } },
});
assert.equal(same.response.status, 304);

// A paper as bytes.
const paper = await client.GET("/v1/parts/{part}/record.pdf", {
  params: { path: { part: codes[0] } }, parseAs: "arrayBuffer",
});
assert.equal(Buffer.from(paper.data as unknown as ArrayBuffer).subarray(0, 5).toString(), "%PDF-");

// A refusal is a problem with a way out.
const unknown = await client.GET("/v1/parts/{part}", { params: { path: { part: "P99999X" } } });
assert.equal(unknown.response.status, 404);
const problem: components["schemas"]["Problem"] = unknown.error!;
assert.ok(problem.way_out);

// What a webhook is told has its type as well.
type Told = webhooks["part.released"]["post"]["requestBody"]["content"]["application/json"];
const told = (event: Told): string => event.data.part;
assert.equal(told({ type: "part.released", timestamp: "", data: { seq: 1, part: codes[1], link: "" } }), codes[1]);
console.log("well");
