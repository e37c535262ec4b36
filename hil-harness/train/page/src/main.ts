import "./console.css";
import "./app";
