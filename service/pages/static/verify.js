// Where the browser can hash (over TLS, or on this machine), the file stays here and its hash alone is asked for.

const form = document.querySelector("[data-hash]");
if (form && globalThis.crypto?.subtle) {
  form.querySelector("[data-where]").hidden = false;
  form.addEventListener("submit", async (event) => {
    const [file] = form.elements.file.files;
    if (!file) return;
    event.preventDefault();
    const hash = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
    const figures = [...new Uint8Array(hash)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    location.assign(`${form.dataset.hash}?sha256=${figures}`);
  });
}
