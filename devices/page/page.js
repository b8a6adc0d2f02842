// Unpacks the program and starts it. Everything else is in there.
(async () => {
	const text = document.getElementById("engine").textContent.trim();
	const bytes = Uint8Array.fromBase64 ? Uint8Array.fromBase64(text) : Uint8Array.from(atob(text), c => c.charCodeAt(0));
	const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
	const go = new Go();
	const unpacked = new Response(stream, {headers: {"Content-Type": "application/wasm"}});
	const {instance} = await WebAssembly.instantiateStreaming(unpacked, go.importObject);
	document.getElementById("engine").remove();
	await go.run(instance);
	throw new Error("the program has ended");
})().catch(error => {
	const said = document.getElementById("said");
	said.textContent = "This page does not work here: the browser is too old, or something failed (" + error.message + "). Ask your clinic for another way.";
	document.getElementById("answers").textContent = "";
	document.getElementById("run").hidden = true;
	document.getElementById("talk").hidden = false;
});
