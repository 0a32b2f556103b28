"use strict";
window.addEventListener("DOMContentLoaded", () => {
  SwaggerUIBundle({
    url: "/api/openapi.json",
    dom_id: "#swagger-ui",
    deepLinking: true,
    validatorUrl: null,
    // It brings a main landmark of its own into ours; a page has one.
    onComplete: () => document.querySelector("#swagger-ui main")?.setAttribute("role", "none"),
  });
});
