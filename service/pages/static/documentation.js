// Draws the API's description; it fetches nothing but that description.
const place = document.getElementById("description");

SwaggerUIBundle({
  url: place.dataset.url,
  domNode: place,
  presets: [SwaggerUIBundle.presets.apis],
  layout: "BaseLayout",
  deepLinking: true,
  docExpansion: "none",
  defaultModelsExpandDepth: -1,
  displayRequestDuration: true,
  validatorUrl: null,
});
