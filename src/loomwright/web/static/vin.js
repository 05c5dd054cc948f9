// Tells of a slip in a VIN while it is typed; the server says what it is.

document.addEventListener("input", async ({ target }) => {
  if (target.name !== "vin") return;
  const asked = target.value;
  const answer = await fetch(`/jobs/vin?${new URLSearchParams({ vin: asked })}`).catch(() => null);
  const { says } = answer?.ok ? await answer.json() : { says: "" };
  if (target.value === asked) document.querySelector("#vin-note").textContent = says;
});
