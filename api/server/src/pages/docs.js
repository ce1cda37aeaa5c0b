"use strict";
const viewer = SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#operations",
  presets: [SwaggerUIBundle.presets.apis],
  deepLinking: true,
  docExpansion: "list",
  defaultModelsExpandDepth: 0,
  displayRequestDuration: true,
  // Left to itself it sends the description to a checker on the web.
  validatorUrl: null,
  onComplete: () => {
    const token = sessionStorage.getItem("access_token");
    if (token) viewer.preauthorizeApiKey("session", token);
  },
});
